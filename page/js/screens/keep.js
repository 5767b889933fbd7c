// Keeping: what the browser promises, a copy as files, and taking one back. Nothing that is here is dropped by a copy: of a
// logbook that went apart from the one here, what is missing is added.

import { askBack, tell, teller } from '../asking.js';
import { el, save, day } from '../dom.js';
import { ask, TEXT } from '../engine.js';
import { refused } from '../result.js';
import * as store from '../store.js';

/** True where the browser has promised to throw nothing away. */
export async function persistent(wanted = false) {
  if (!navigator.storage?.persisted) return null;
  if (await navigator.storage.persisted()) return true;
  return wanted ? navigator.storage.persist() : false;
}

/** Everything that is kept, as one text. */
async function everything() {
  const files = {};
  const bench = await store.bench();
  if (bench) files['bench.toml'] = bench;
  for (const { tank, text } of await store.logbooks()) files[tank ? `logbook-${tank}.jsonl` : 'logbook.jsonl'] = text;
  for (const recipe of (await store.get('recipes')) ?? []) files[`recipe-${recipe.name}.json`] = recipe.text;
  return files;
}

const name = (file) => file.replace(/[^\p{L}\p{N}.,_ -]/gu, '_');

export async function keepScreen() {
  const [persists, saved] = [teller(), teller()];
  const question = el('div', {});
  const place = el('div', {});
  const promise = await persistent();
  const files = await everything();
  const before = await store.get('bench-before');
  const copied = async () => store.put('copy', { since: Date.now(), entries: 0 });
  const copyAll = async () => {
    const whole = { kind: 'bloomsalt-copy', version: 1, files: await everything() };
    save(`bloomsalt-${day()}.json`, JSON.stringify(whole, null, 2) + '\n', 'application/json');
    await copied();
    tell(saved, 'Saved. Keep the file where the phone cannot lose it.');
  };
  const one = (file, text) => el('li', {}, el('button', { type: 'button', onclick: async () => { save(name(file), text); await copied(); } }, `Save ${file}`), ' ', el('span', { class: 'hint' }, `${text.length} characters`));
  const picked = el('input', { type: 'file', id: 'take-back', multiple: true, accept: '.json,.jsonl,.toml,.txt', onchange: async () => {
    place.replaceChildren();
    for (const file of picked.files) place.append(el('p', {}, el('strong', {}, `${file.name}: `), await take(file.name, await file.text(), question)));
    picked.value = '';
  } });
  const words = promise === true ? 'This browser keeps what is here until you delete it.'
    : promise === false ? 'This browser may throw data away when it is short of room, or when the page was not opened for some weeks. Ask it to keep it, put the page on the home screen, and save copies.'
      : 'This browser does not say whether it keeps data: the page was not opened from an https address. Save copies.';
  return el('div', {}, el('h1', {}, 'Keep and take back'), el('p', { class: 'intro' }, words),
    promise === false && el('button', { type: 'button', onclick: async () => tell(persists, (await persistent(true)) ? 'It keeps it now.' : 'It did not agree; save copies.') }, 'Ask the browser to keep it'), persists,
    el('h2', {}, 'A copy'), el('p', {}, 'The bench file, every logbook and every recipe; each is the file that the terminal reads.'),
    el('div', { class: 'actions' }, el('button', { type: 'button', class: 'main', onclick: copyAll }, 'Save a copy of everything')), saved,
    el('ul', { class: 'files' }, Object.entries(files).map(([file, text]) => one(file, text)), before && one('bench-before.toml', before)),
    el('h2', {}, 'Take back'), el('div', { class: 'field' }, el('label', { for: 'take-back' }, 'A copy, a bench file, a logbook or a recipe'), picked), question, place);
}

async function take(file, text, question) {
  let read = null;
  try {
    read = JSON.parse(text);
  } catch {
    // a bench file or a logbook is no single JSON document
  }
  if (read?.kind === 'bloomsalt-copy' && typeof read.files === 'object' && read.files !== null) {
    const all = el('ul', {});
    for (const [one, content] of Object.entries(read.files)) all.append(el('li', {}, `${one}: `, typeof content === 'string' ? await takeOne(one, content, question) : 'no text, left out'));
    return all;
  }
  return takeOne(file, text, question);
}

async function takeOne(file, text, question) {
  if (file.endsWith('.toml')) return takeBench(text, question);
  if (file.endsWith('.jsonl')) return takeLogbook(file, text);
  return takeRecipe(file, text);
}

async function takeBench(text, question) {
  const { ok, doc } = await ask({ job: 'bench-read', bench: text });
  if (!ok) return refused(doc.problems.map((problem) => ({ ...problem, file: null, message: `line ${problem.line ?? '?'}: ${problem.message}` })));
  const before = await store.bench();
  if (before === text) return 'the same as here.';
  if (before) {
    const words = el('p', {}, 'There is another bench file here. Replace it? The one here stays among the files, as bench-before.toml.');
    if (!(await askBack(question, words, { no: 'No, leave it', yes: 'Yes, replace it' }))) return 'left as it is.';
    await store.put('bench-before', before);
  }
  await store.put('bench', text);
  return 'taken back.';
}

async function takeLogbook(file, text) {
  const { ok, doc } = await ask({ job: 'logbook-show', logbook: text });
  if (!ok) return refused(doc.problems.map((problem) => ({ ...problem, file: null })));
  const tank = /^logbook-(.+)\.jsonl$/.exec(file)?.[1] ?? '';
  const key = store.logbookKey(tank);
  const before = await store.get(key);
  if (before === text) return 'the same as here.';
  if (before === undefined || text.startsWith(before)) return (await store.swap(key, before, text)) ? `${doc.entries.length} entries are here now.` : 'another tab wrote meanwhile; try again.';
  if (before.startsWith(text)) return 'everything in it is here already.';
  const merged = await ask({ job: 'logbook-merge', logbook: before, other: text }, TEXT);
  if (!merged.ok) return refused(merged.doc.problems.map((problem) => ({ ...problem, file: null })));
  if (!(await store.swap(key, before, before + merged.doc.append))) return 'another tab wrote meanwhile; try again.';
  return el('pre', { class: 'report' }, merged.text);
}

async function takeRecipe(file, text) {
  const { ok, doc } = await ask({ job: 'check', recipe: text });
  if (!ok) return refused(doc.problems.map((problem) => ({ ...problem, file: null })));
  const kept = file.replace(/^recipe-/, '').replace(/\.json$/, '');
  await store.change('recipes', (all = []) => [...all.filter((recipe) => recipe.name !== kept), { name: kept, text }]);
  return 'a recipe, taken back.';
}
