// What the forms need to know of the bench, asked of the library: nothing here reads the file itself.

import { ask } from './engine.js';
import * as store from './store.js';

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

/** The bench as the library reads it; nothing where the file is refused. */
export async function read() {
  const bench = await text();
  return once('bench', bench, async () => {
    const { ok, doc } = await ask({ job: 'bench-read', bench });
    return ok ? doc : null;
  });
}

/** The formulas of the bench. */
export const formulas = async () => (await read())?.formulas.map((formula) => formula.name) ?? [];

/** Every salt and product that the bench knows. */
export async function salts() {
  const bench = await text();
  return once('salts', bench, async () => {
    const { ok, doc } = await ask({ job: 'salts', bench });
    return ok ? doc.salts : (await ask({ job: 'salts' })).doc.salts;
  });
}

/** Ids of the tanks, where the bench has several. */
export const tanks = async () => (await read())?.tanks.map((tank) => tank.id).filter((id) => id !== null) ?? [];

/** The tank that was chosen last, where there are several. */
export async function tank() {
  const all = await tanks();
  const chosen = await store.get('tank');
  return all.includes(chosen) ? chosen : all[0];
}
