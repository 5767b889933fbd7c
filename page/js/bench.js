// What the forms need to know of the bench, asked of the library: nothing here reads the file itself.

import { ask } from './engine.js';
import * as store from './store.js';
import { moment } from './dom.js';

const known = new Map();

async function once(name, text, find) {
  const kept = known.get(name);
  if (kept && kept.text === text) return kept.found;
  const found = await find();
  known.set(name, { text, found });
  return found;
}

/** The text of the bench file, or nothing: then the library takes its starter. */
export const text = async () => (await store.bench()) ?? undefined;

/** The formulas of the bench: a formula that cannot be there is refused with those that are. */
export async function formulas() {
  const bench = await text();
  return once('formulas', bench, async () => {
    const { doc } = await ask({ job: 'mix', formula: '?', bench });
    const unknown = doc.problems?.find((problem) => problem.code === 'unknown-formula');
    return unknown?.allowed?.split(', ') ?? [];
  });
}

/** Every salt and product that the bench knows. */
export async function salts() {
  const bench = await text();
  return once('salts', bench, async () => {
    const { ok, doc } = await ask({ job: 'salts', bench });
    return ok ? doc.salts : (await ask({ job: 'salts' })).doc.salts;
  });
}

/** Ids of the tanks, where the bench has several: a tank that cannot be there is refused with those that are. */
export async function tanks() {
  const bench = await text();
  return once('tanks', bench, async () => {
    const { ok, doc } = await ask({ job: 'logbook-add', bench, logbook: '', now: moment(), tank: '?', entry: { event: 'stalks' } });
    const unknown = ok ? undefined : doc.problems.find((problem) => problem.code === 'tank');
    const [, there = ''] = unknown?.message.split(' the bench has ') ?? [];
    return [...there.matchAll(/`([^`]+)`/g)].map(([, id]) => id);
  });
}

/** The tank that was chosen last, where there are several. */
export async function tank() {
  const all = await tanks();
  const chosen = await store.get('tank');
  return all.includes(chosen) ? chosen : all[0];
}
