// What the forms need to know of the bench, asked of the library: nothing here reads the file itself.

import { day } from './dom.js';
import { ask, starter } from './engine.js';
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

let searched = 0;

/** The salts that are meant by what is typed, as the terminal finds them; nothing where more was typed meanwhile. */
export async function saltsCalled(words) {
  const mine = ++searched;
  if (!words.trim()) return salts();
  const { ok, doc } = await ask({ job: 'salts', bench: await text(), words });
  if (mine !== searched) return null;
  return ok ? doc.salts : [];
}

/** Ids of the tanks, where the bench has several. */
export const tanks = async () => (await read())?.tanks.map((tank) => tank.id).filter((id) => id !== null) ?? [];

/** The tank that was chosen last, where there are several. */
export async function tank() {
  const all = await tanks();
  const chosen = await store.get('tank');
  return all.includes(chosen) ? chosen : all[0];
}

/**
 * Enters bottles that were made today in the bench: `{ ok, text }` with the bench as it is now, or `{ ok: false, problems }`. All
 * are entered full: the library takes off what one of them took of another, and what the logbook pours.
 *
 * * `made`: `helpers` of an answer, each with its own entry; one that another is made of stands before it
 * * `before`: the text that the answer was made from
 */
export async function enterBottles(made, before) {
  const text = before ?? (await starter());
  const { ok, doc } = await ask({ job: 'bench-read', bench: text });
  if (!ok) return { ok, problems: doc.problems };
  const first = doc.written.helper?.length ?? 0;
  const edits = made.flatMap((bottle, at) => {
    const set = { made_on: day(), left: `${bottle.volume_ml} mL`, counted_on: day() };
    return Object.entries(set).map(([key, value]) => ({ key: ['helper', first + at, key], value }));
  });
  const edited = await ask({ job: 'bench-edit', bench: [text.trimEnd(), ...made.map(({ entry }) => entry)].join('\n\n'), edits });
  if (!edited.ok) return { ok: false, problems: edited.doc.problems };
  if (await store.swap('bench', before, edited.doc.text)) return { ok: true, text: edited.doc.text };
  return { ok: false, problems: [{ message: 'The bench was changed meanwhile, in another tab; nothing of it is kept. Open this screen anew.' }] };
}
