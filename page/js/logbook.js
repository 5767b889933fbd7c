// Keeping an entry: the library says what to append to the text it was given; it is written only while that text still stands,
// and asked again where another tab was quicker. Nothing is shown as kept before the transaction is done.

import { ask } from './engine.js';
import { askBack } from './asking.js';
import { el, moment } from './dom.js';
import * as store from './store.js';
import * as bench from './bench.js';

const TRIES = 20;

/**
 * Keeps an entry: `{ ok, entry }`, or `{ ok: false, answered }` with the refusal. One that looks like a slip is asked back in
 * `place`; `{ ok: false, changed: true }` where it was one.
 */
export async function keepEntry(tank, entry, place, text, now = moment()) {
  const key = store.logbookKey(tank);
  let confirmed;
  for (let tries = 0; tries < TRIES; tries += 1) {
    const before = await store.get(key);
    const request = { job: 'logbook-add', logbook: before ?? '', now, entry, confirmed, bench: text ?? (await bench.text()) };
    if (tank) request.tank = tank;
    const answered = await ask(request);
    if (!answered.ok && answered.doc.problems.every((problem) => problem.code === 'confirm')) {
      const words = answered.doc.problems.map((problem) => el('div', { class: 'problem' }, el('p', {}, problem.message), problem.help && el('p', { class: 'help' }, problem.help)));
      confirmed = await askBack(place, words, { no: 'No, I change it', yes: 'Yes, keep it' });
      if (confirmed) continue;
      return { ok: false, changed: true, answered };
    }
    if (!answered.ok) return { ok: false, answered };
    if (await store.swap(key, before, (before ?? '') + answered.doc.append)) {
      await store.change('copy', (copy) => ({ since: copy?.since ?? Date.now(), entries: (copy?.entries ?? 0) + 1 }));
      return { ok: true, entry: answered.doc.added.entry, doc: answered.doc };
    }
  }
  return { ok: false, answered: { ok: false, doc: { problems: [{ message: 'Another tab keeps writing to this logbook; nothing was kept. Try again.' }], conflict: [] } } };
}

/**
 * What was really poured where it was not as told, as a field that stays shut until it is wanted: `{ node, weighed() }`.
 *
 * * `of`: what it stands beside, part of its id
 */
export function otherwise(of) {
  const id = `otherwise-${of}`;
  const lines = el('textarea', { id, rows: 3, 'aria-describedby': `${id}-hint`, autocapitalize: 'off', spellcheck: false });
  const node = el('details', { class: 'more' }, el('summary', {}, 'Something went in otherwise'),
    el('div', { class: 'field' }, el('label', { for: id }, 'What really went in, one a line'), lines,
      el('p', { class: 'hint', id: `${id}-hint` }, 'potassium-sulfate=7.0g; of a jug of thinned acid what is left in it: nitric-acid-38=27mL left; 0g for what was left out')));
  const weighed = () => lines.value.split(/[\n;]/).map((line) => line.trim()).filter(Boolean);
  return { node, weighed };
}

/** The event of a recipe that was done, with what went in otherwise. */
export const done = (recipe, weighed) => ({ event: 'from', recipe: JSON.stringify(recipe), ...(weighed.length && { weighed }) });
