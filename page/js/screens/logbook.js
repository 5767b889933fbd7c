// The logbook: reading the meter, what else happened, what is in the tank now; every entry.

import { tell, teller } from '../asking.js';
import { el, moment } from '../dom.js';
import { ask, SHEET, TEXT } from '../engine.js';
import { form } from '../fields.js';
import { show, refused } from '../result.js';
import * as bench from '../bench.js';
import * as store from '../store.js';
import { keepEntry } from '../logbook.js';
import { askedVoid, happened, said, when } from './voiding.js';

async function now(tank, place) {
  const logbook = await store.logbook(tank);
  if (!logbook) return place.replaceChildren(el('p', { class: 'hint' }, 'Nothing is in the logbook yet.'));
  return show('now', place, await ask({ job: 'logbook-now', logbook, now: moment(), bench: await bench.text(), also: undefined }, SHEET | TEXT));
}

/** Which tank, where the bench has several. */
async function chooser(redraw) {
  const tanks = await bench.tanks();
  if (tanks.length < 2) return null;
  const chosen = await bench.tank();
  const pick = el('select', { id: 'which-tank', onchange: async () => { await store.put('tank', pick.value); redraw(); } }, tanks.map((tank) => el('option', { value: tank, selected: tank === chosen }, tank)));
  return el('div', { class: 'field' }, el('label', { for: 'which-tank' }, 'Tank'), pick);
}

const redraw = () => window.dispatchEvent(new HashChangeEvent('hashchange'));

/** What happened, when it happened: the field and the moment that the library takes. */
const WHEN = { key: 'when', label: 'When', kind: 'text', placeholder: 'now', hint: 'Only when it was not just now: 2026-10-03 18:30', more: true };
function at(when) {
  if (!when) return moment();
  return /[+-]\d\d:\d\d$|Z$/.test(when) ? when : `${when}${moment(new Date(when.replace(' ', 'T'))).slice(19) || moment().slice(19)}`;
}

/** A form whose values become an entry; `tell` puts what came of it. */
function entryForm(name, fields, button, entry, after) {
  const state = teller();
  const rest = el('div', {});
  let keeping = false;
  const asked = form(name, [...fields, WHEN], {
    button,
    submit: async ({ when, ...values }) => {
      if (keeping) return;
      keeping = true;
      asked.clear(); // what was refused before is another value's
      state.replaceChildren();
      rest.replaceChildren(el('p', { class: 'hint' }, 'Keeping…')); // until the answer, or the question that stands in its place
      const told = await keepEntry(await bench.tank(), entry(values), rest, undefined, at(when));
      keeping = false;
      asked.clear();
      rest.replaceChildren();
      state.replaceChildren();
      if (told.changed) {
        tell(state, 'Not kept. What you typed is still here.');
        asked.node.querySelector('input, textarea')?.focus();
        return;
      }
      if (!told.ok) {
        const left = asked.refuse(told.answered.doc.problems);
        if (left.length) rest.replaceChildren(refused(left));
        return;
      }
      await asked.empty();
      tell(state, el('strong', { class: 'kept' }, `Kept as entry ${told.entry}.`));
      await after?.(told);
    },
  });
  return { node: el('div', {}, asked.node, rest, state), restore: asked.restore };
}

export async function read() {
  const place = el('section', { class: 'result', 'aria-live': 'polite', 'aria-label': 'What it means' });
  const links = el('div', { class: 'actions' });
  const meaning = async () => {
    const tank = await bench.tank();
    const books = [await store.logbook(tank)];
    const answered = await ask({ job: 'today', bench: await bench.text(), now: moment(), logbooks: books, also: ['figures'] }, SHEET | TEXT);
    await show('read', place, answered);
    links.replaceChildren(el('a', { class: 'button', href: '#logbook' }, 'Logbook'), el('a', { class: 'button', href: '#now' }, 'Do it now'));
  };
  const reading = entryForm('read', [
    { key: 'ec', label: 'EC', unit: 'mS/cm', large: true },
    { key: 'ph', label: 'pH', large: true },
    { key: 'level', label: 'Level in the tank', unit: 'L', hint: 'As far as you can see it: it tells water that went from salts that went.' },
    { key: 'temperature', label: 'Temperature', unit: 'C', more: true },
  ], 'Keep and explain', (values) => ({ event: 'reading', ...values }), meaning);
  await reading.restore();
  return el('div', {}, el('h1', {}, 'Read the meter'), await chooser(redraw), reading.node, place, links);
}

const HAPPENED = {
  'topped-up': ['Water filled in', [{ key: 'volume', label: 'How much', unit: 'L' }, { key: 'to', label: 'Level after it', unit: 'L' }, { key: 'water', label: 'Which water, where your bench has several, one a line', kind: 'lines', list: true, hint: 'rain=4L; one alone needs no volume' }]],
  drained: ['Let out', [{ key: 'volume', label: 'How much', unit: 'L' }]],
  filled: ['Fresh tank', [{ key: 'volume', label: 'How much', unit: 'L' }, { key: 'added', label: 'What went in, one a line', kind: 'lines', list: true, hint: 'potassium-nitrate=14.1g. After a mix, "It is in the tank" enters everything at once.' }, { key: 'water', label: 'Which water, where your bench has several, one a line', kind: 'lines', list: true, hint: 'rain=4L; one alone needs no volume' }, { key: 'formula', label: 'Formula', kind: 'text' }, { key: 'held_back', label: 'Stayed behind in medium and pipes', unit: 'L' }]],
  added: ['Salts added', [{ key: 'added', label: 'What went in, one a line', kind: 'lines', list: true, hint: 'potassium-nitrate=14.1g' }]],
  analysis: ['Analysis by a laboratory', [{ key: 'found', label: 'What it found, one a line', kind: 'lines', list: true, hint: 'N=88, in ppm' }]],
  phase: ['A phase began', [{ key: 'name', label: 'Which', kind: 'text', placeholder: 'push' }]],
  stalks: ['Flower stalks seen', []],
  note: ['Note', [{ key: 'text', label: 'What to remember', kind: 'text' }]],
};

export async function logbook() {
  const tank = await bench.tank();
  const place = el('section', { class: 'result', 'aria-label': 'In the tank now' });
  const entries = el('ol', { class: 'entries', reversed: true });
  const refresh = async (told) => {
    await now(tank, place);
    await list(tank, entries, refresh, told);
  };
  const kind = el('select', { id: 'what-happened' }, Object.entries(HAPPENED).map(([event, [name]]) => el('option', { value: event }, name)));
  const holder = el('div', {});
  const choose = async () => {
    const event = kind.value;
    holder.replaceChildren(); // nothing is typed into the form that goes
    const entry = entryForm(`logbook-${event}`, HAPPENED[event][1], 'Keep', (values) => ({ event, ...values }), () => refresh());
    await entry.restore();
    if (event !== kind.value) return;
    holder.replaceChildren(entry.node);
    await store.put('happened', event);
  };
  const before = await store.get('happened');
  if (before in HAPPENED) kind.value = before;
  kind.addEventListener('change', choose);
  await choose();
  await refresh();
  return el('div', {}, el('h1', {}, 'Logbook'), await chooser(redraw),
    el('div', { class: 'actions' }, el('a', { class: 'button', href: '#read' }, 'Read the meter'), el('a', { class: 'button', href: '#forecast' }, 'What is to come')),
    el('details', { class: 'more' }, el('summary', {}, 'Something else happened'), el('div', { class: 'field' }, el('label', { for: 'what-happened' }, 'What happened'), kind), holder),
    place, el('h2', {}, 'Entries'), entries);
}

/** Every entry; `told`: `{ entry, words }`, what is said beside one of them, where the finger was. */
async function list(tank, entries, refresh, told) {
  const text = await store.logbook(tank);
  if (!text) return entries.replaceChildren();
  const { ok, doc } = await ask({ job: 'logbook-show', logbook: text });
  if (!ok) return entries.replaceChildren(el('li', {}, refused(doc.problems)));
  entries.replaceChildren(...doc.entries.map((entry) => {
    const counts = entry.voided_by == null && entry.event !== 'voided';
    const question = el('div', { class: 'below' });
    const voided = async () => {
      if (await askedVoid(tank, entry, question)) await refresh({ entry: entry.entry, words: `Entry ${entry.entry} is voided; it stays in the logbook and counts no more.` });
    };
    return el('li', { value: entry.entry, class: counts ? '' : 'voided' },
      el('div', {}, `${entry.entry}. `, el('time', {}, when(entry)), ' ', el('strong', {}, happened(entry)), said(entry), entry.voided_by != null && ` (voided by entry ${entry.voided_by})`),
      counts && entry.event !== 'void' && el('button', { type: 'button', class: 'quiet', 'aria-label': `Void entry ${entry.entry}`, onclick: voided }, 'Void'), question,
      told?.entry === entry.entry && el('p', { class: 'below told', tabIndex: -1 }, told.words));
  }).reverse());
  entries.querySelector('.told')?.focus();
}
