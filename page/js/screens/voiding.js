// An entry in words, and voiding it: asked back first, with what that changes of the tank as it is known now.

import { askBack } from '../asking.js';
import { el, moment } from '../dom.js';
import { ask } from '../engine.js';
import { refused } from '../result.js';
import * as bench from '../bench.js';
import * as store from '../store.js';
import { keepEntry } from '../logbook.js';

const QUIET = new Set(['entry', 'at', 'event', 'voided_by']);
const POURED = [['salts_g', 'g'], ['bottles_ml', 'mL']];
const UNITS = [['_ms_cm', 'mS/cm'], ['_l', 'L'], ['_c', 'C']];

export const when = (entry) => entry.at.slice(0, 16).replace('T', ' ');
export const happened = (entry) => entry.event.replaceAll('-', ' ');

function worded(key, value) {
  const [end, unit] = UNITS.find(([end]) => key.endsWith(end)) ?? ['', ''];
  const name = key.slice(0, key.length - end.length).replace(/^ec$/, 'EC').replace(/^ph$/, 'pH').replaceAll('_', ' ');
  const shown = typeof value === 'number' ? Number(value.toFixed(3)) : value;
  return [name, shown, unit].filter((word) => word !== '').join(' ');
}

/** What it says beside what happened, in a line. */
export function said(entry) {
  const all = Object.entries(entry).filter(([key, value]) => !QUIET.has(key) && value !== null && typeof value !== 'object');
  const measured = POURED.flatMap(([key, unit]) => Object.entries(entry[key] ?? {}).map(([name, amount]) => `${name} ${Number(amount.toPrecision(4))} ${unit}`));
  const words = [...all.map(([key, value]) => worded(key, value)), ...measured];
  return words.length ? `: ${words.join(', ')}` : '';
}

const TOLD = ['N', 'P', 'K', 'Ca', 'Mg'];
const about = (value, unit) => (value === null || value === undefined ? 'not known' : `about ${Number(value.toPrecision(3))} ${unit}`);

/** What a grower looks at, of an answer to `logbook-now`. */
const known = (now) => [
  ['Formula', now.formula ?? 'not known'], ['Phase', now.phase ?? 'not known'], ['Level', about(now.level_l, 'L')], ['EC', about(now.ec_ms_cm?.likely, 'mS/cm')],
  ...TOLD.map((symbol) => [symbol, about(now.elements.find(({ element }) => element === symbol)?.ppm, 'ppm')]),
];

/** What of the tank is known otherwise without an entry. */
function outcome(changed, after) {
  if (!changed.length) return [el('p', {}, 'What is known of the tank now stays as it is.')];
  if (after.filled === null) return [el('p', {}, 'Without it nothing is known of what is in the tank now.')];
  return [el('p', {}, 'In the tank now:'), el('ul', {}, changed.map(([name, here, there]) => el('li', {}, `${name}: ${here}; without it ${there}`)))];
}

/** True once the entry is voided. */
export async function askedVoid(tank, entry, place) {
  const [text, logbook, at] = [await bench.text(), await store.logbook(tank), moment()];
  const event = { event: 'void', entry: entry.entry };
  const tried = await ask({ job: 'logbook-add', logbook, now: at, entry: event, bench: text, tank });
  const now = (book) => ask({ job: 'logbook-now', logbook: book, now: at, bench: text });
  const [before, after] = tried.ok ? [await now(logbook), await now(logbook + tried.doc.append)] : [tried, tried];
  const wrong = [before, after].find(({ ok }) => !ok);
  if (wrong) {
    place.replaceChildren(refused(wrong.doc.problems));
    return false;
  }
  const then = known(after.doc);
  const changed = known(before.doc).map(([name, words], at) => [name, words, then[at][1]]).filter(([, here, there]) => here !== there);
  const words = [
    el('p', {}, el('strong', {}, `Void entry ${entry.entry}?`), ` ${when(entry)} ${happened(entry)}${said(entry)}`),
    ...outcome(changed, after.doc),
    el('p', { class: 'help' }, 'It stays in the logbook and counts no more. What is right is entered anew.'),
  ];
  if (!(await askBack(place, words, { no: 'No, it stands', yes: `Yes, void entry ${entry.entry}` }))) return false;
  const kept = await keepEntry(tank, event, place, text);
  if (!kept.ok && !kept.changed) place.replaceChildren(refused(kept.answered.doc.problems));
  return kept.ok;
}
