// What is kept: the texts of bench and logbooks, saved recipes, ticks and what is half typed. One database, one store; every
// change is one transaction with strict durability, and a text is only replaced while it is still the one it was made from,
// so that two tabs lose nothing.

import { openDB } from 'idb';

const STRICT = { durability: 'strict' };
const opened = openDB('bloomsalt', 1, { upgrade: (db) => db.createObjectStore('texts') });
const others = 'BroadcastChannel' in self ? new BroadcastChannel('bloomsalt') : null;
const listeners = new Set();
others?.addEventListener('message', ({ data }) => listeners.forEach((tell) => tell(data)));

/** Calls back with a key that another tab has changed. */
export const changed = (tell) => listeners.add(tell);

export async function get(key) {
  return (await opened).get('texts', key);
}

export async function put(key, value) {
  const transaction = (await opened).transaction('texts', 'readwrite', STRICT);
  transaction.store.put(value, key);
  await transaction.done;
  others?.postMessage(key);
}

/** Replaces a value if it is still `before`; false where somebody was quicker. */
export async function swap(key, before, after) {
  const transaction = (await opened).transaction('texts', 'readwrite', STRICT);
  const stands = (await transaction.store.get(key)) === before;
  if (stands) transaction.store.put(after, key);
  await transaction.done;
  if (stands) others?.postMessage(key);
  return stands;
}

/** Changes a value by a function of it, in one transaction. */
export async function change(key, how) {
  const transaction = (await opened).transaction('texts', 'readwrite', STRICT);
  const after = how(await transaction.store.get(key));
  transaction.store.put(after, key);
  await transaction.done;
  others?.postMessage(key);
  return after;
}

export async function keys(prefix) {
  return (await (await opened).getAllKeys('texts')).filter((key) => key.startsWith(prefix));
}

/** True where the browser keeps what is written: some keep nothing for a page that was opened as a file. */
export async function keeps() {
  try {
    await put('probe', 'kept');
    return (await get('probe')) === 'kept';
  } catch {
    return false;
  }
}

export const bench = () => get('bench');
export const logbookKey = (tank) => `logbook:${tank ?? ''}`;
export const logbook = async (tank) => (await get(logbookKey(tank))) ?? '';
export async function logbooks() {
  const names = await keys('logbook:');
  return Promise.all(names.map(async (key) => ({ tank: key.slice('logbook:'.length), text: await get(key) })));
}
