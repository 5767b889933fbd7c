// Keeping an entry: the library says what to append to the text it was given; it is written only while that text still stands,
// and asked again where another tab was quicker. Nothing is shown as kept before the transaction is done.

import { ask } from './engine.js';
import { moment } from './dom.js';
import * as store from './store.js';
import * as bench from './bench.js';

const TRIES = 20;

/** Keeps an entry: `{ ok, entry }`, or `{ ok: false, answered }` with the refusal. */
export async function keepEntry(tank, entry, text, now = moment()) {
  const key = store.logbookKey(tank);
  for (let tries = 0; tries < TRIES; tries += 1) {
    const before = await store.get(key);
    const request = { job: 'logbook-add', logbook: before ?? '', now, entry, bench: text ?? (await bench.text()) };
    if (tank) request.tank = tank;
    const answered = await ask(request);
    if (!answered.ok) return { ok: false, answered };
    if (await store.swap(key, before, (before ?? '') + answered.doc.append)) {
      await store.change('copy', (copy) => ({ since: copy?.since ?? Date.now(), entries: (copy?.entries ?? 0) + 1 }));
      return { ok: true, entry: answered.doc.added.entry, doc: answered.doc };
    }
  }
  return { ok: false, answered: { ok: false, doc: { problems: [{ message: 'Another tab keeps writing to this logbook; nothing was kept. Try again.' }], conflict: [] } } };
}
