// The bench as forms: a card for each part of the file, and a screen for each with its entries. Every change is made in the text
// that is kept, by the library, and only while that is still the text that was shown.

import { askBack } from '../asking.js';
import { el } from '../dom.js';
import { ask } from '../engine.js';
import { form } from '../fields.js';
import { refused } from '../result.js';
import { PARTS, brief, fieldsOf, isTable, tableOf, titleOf } from './keys.js';
import * as bench from '../bench.js';
import * as store from '../store.js';

const nameOf = (entry) => entry.id ?? brief(Object.values(entry)[0]);

/** The entries of a part: `{ name, path, value }`. */
function entries({ name, kind, rows }, written) {
  if (kind === 'root') return [{ path: [], value: Object.fromEntries(rows.flatMap((row) => row.keys).filter((key) => key in written).map((key) => [key, written[key]])) }];
  const there = written[name];
  if (Array.isArray(there)) {
    const names = there.map(nameOf);
    return there.map((value, at) => ({ name: names.indexOf(names[at]) < at ? `${names[at]} (${at + 1})` : names[at], path: [name, at], value }));
  }
  if (kind === 'map') return Object.entries(there ?? {}).map(([id, value]) => ({ name: id, path: [name, id], value }));
  return there ? [{ path: [name], value: there }] : [];
}

export function overview(written) {
  const cards = PARTS.map((part) => {
    const all = entries(part, written);
    const words = all.map(({ name, value }) => name ?? brief(value)).filter(Boolean);
    const more = words.length > 4 ? ` and ${words.length - 4} more` : '';
    return el('a', { class: 'card', href: `#bench/part/${part.name}` }, el('strong', {}, titleOf(part)), el('span', {}, words.length ? words.slice(0, 4).join(', ') + more : 'not stated'));
  });
  return el('nav', { class: 'cards', 'aria-label': 'Parts of the bench' }, cards);
}

/** The screen of a part of the bench that `bench-read` answered. */
export async function part(name, read) {
  const section = PARTS.find((one) => one.name === name);
  if (!section) throw new Error(`There is no part "${name}" of a bench.`);
  const place = el('div', {});
  const salts = name === 'shelf' ? (await bench.salts()).map((salt) => [salt.id, salt.name]) : [];
  await draw(section, place, read, salts);
  return el('div', {}, el('h1', {}, titleOf(section)), section.means && el('p', { class: 'intro' }, `${section.means}.`), place, el('div', { class: 'actions' }, el('a', { class: 'button', href: '#bench' }, 'All parts of the bench')));
}

/** Under which what is half typed of an entry is kept. */
const draftOf = ({ name: part }, { name = '', adds }) => `bench${adds ? '-add' : ''}/${part}/${name}`;

/** Draws it; `told` is said in the entry of a draft, which stands open. */
async function draw(section, place, read, salts, told = {}) {
  const { kind, name, rows, more } = section;
  const { written } = read;
  const names = Object.keys(written.formula ?? {});
  const choices = { formula: names, from: names };
  const again = async (words) => {
    const { ok, doc } = await ask({ job: 'bench-read', bench: await bench.text() });
    if (ok) await draw(section, place, doc, salts, words);
  };
  const context = { section, read, again };
  const all = entries(section, written);
  const several = kind === 'list' || kind === 'map' || Array.isArray(written[name]);
  const nodes = [];
  for (const entry of all) {
    const fields = fieldsOf(several && more ? [...more, ...rows] : rows, entry.value, choices);
    const edits = ({ all: now, changed }) => [...changed].map((key) => ({ key: [...entry.path, key], value: now[key] ?? null }));
    const removes = kind !== 'root' && !(name === 'tank' && all.length === 1);
    const node = await entryForm(context, { entry, fields, edits, removes, button: 'Keep', told });
    nodes.push(several ? el('details', { class: 'more', open: told.draft === draftOf(section, entry) }, el('summary', {}, entry.name, el('span', { class: 'with' }, brief(entry.value))), node) : node);
  }
  if (kind === 'list' || kind === 'map' || more || !all.length) nodes.push(await adding(context, { all, several, choices, salts, told }));
  if (told.words && !nodes.some((node) => node.querySelector('.told'))) nodes.unshift(saying(told.words));
  place.replaceChildren(...nodes);
  place.querySelector('.told')?.focus();
}

const saying = (words) => el('p', { class: 'kept told', role: 'status', tabIndex: -1 }, words);

/** What adds an entry; where one stands alone without an id, it gets one as the second comes. */
async function adding(context, { all, several, choices, salts, told }) {
  const { name, kind, rows, more = [] } = context.section;
  const alone = kind === 'one' && !several && all.length === 1;
  const id = { keys: [kind === 'map' ? 'name' : 'the one that is here'], means: kind === 'map' ? 'What it is called' : 'What the one that stands here already is called from now on', must: true, example: 'name' };
  if (name === 'shelf') Object.assign(id, { keys: ['salt'], means: 'Which one, by its name', options: salts.filter(([one]) => !all.some((entry) => entry.name === one)) });
  const named = kind === 'map' || alone;
  const fields = [...(named ? fieldsOf([id], {}, choices) : []), ...fieldsOf(several && more || alone ? [...more, ...rows] : rows, {}, choices)];
  const edits = ({ all: now }) => {
    const { [id.keys[0]]: first, ...value } = now;
    if (alone) return [{ key: [name], value: [{ id: first ?? '', ...all[0].value }, value] }];
    return [{ key: kind === 'map' ? [name, String(first ?? '')] : several ? [name, all.length] : [name], value }];
  };
  const node = await entryForm(context, { entry: { adds: true, path: [name] }, fields, edits, button: 'Add', told });
  return el('details', { class: 'more', open: !all.length || told.draft === draftOf(context.section, { adds: true }) }, el('summary', {}, all.length ? 'Add another' : 'Add'), node);
}

/** One form with its buttons: what is typed becomes edits, and refusals stand beside their fields. */
async function entryForm({ section, read, again }, { entry, fields, edits, removes, button, told }) {
  const rest = el('div', {});
  const draft = draftOf(section, entry);
  const asked = form(draft, fields, { draft: 'changes', button, submit: () => {
    const typed = tableOf(fields, asked.input);
    if (button === 'Keep' && !typed.changed.size) rest.replaceChildren(el('p', { role: 'status' }, 'Nothing is changed.'));
    else send(edits(typed), button === 'Keep' ? 'Kept.' : 'Added.');
  } });
  await asked.restore();
  async function send(list, words) {
    const before = await bench.text();
    const answered = await ask({ job: 'bench-edit', bench: before, fingerprint: read.fingerprint, edits: list });
    const { ok, doc } = answered;
    if ((ok && !(await store.swap('bench', before, doc.text))) || doc.problems?.some(({ code }) => code === 'changed-meanwhile')) {
      await again({ draft, words: 'The bench was changed meanwhile, in another tab. This is how it stands now, with what you typed; nothing of it is kept yet.' });
    } else if (ok) {
      await asked.empty();
      const name = list.find(({ key }) => key.at(-1) === 'id')?.value ?? entry.name;
      await again({ draft: words === 'Kept.' ? draftOf(section, { name }) : undefined, words });
    } else {
      const left = asked.refuse(doc.problems.map((problem) => beside(problem, section, entry, fields, asked)));
      rest.replaceChildren(left.length ? refused(left) : '');
      asked.node.querySelector('[aria-invalid]')?.focus();
    }
  }
  const question = el('div', {});
  const remove = async () => {
    const words = el('p', {}, `Take ${entry.name ?? 'this'} out of the bench, with all that is said of it?`);
    if (await askBack(question, words, { no: 'No, it stays', yes: 'Yes, take it out' })) await send([{ key: entry.path }], 'Taken out.');
  };
  return el('div', {}, told.draft === draft && saying(told.words), asked.node, rest,
    removes && el('div', { class: 'actions' }, el('button', { type: 'button', class: 'quiet', onclick: remove }, `Take out${entry.name ? ` ${entry.name}` : ''}`)), question);
}

/** A problem with the key of the field that it is about; without one, its place is told in words. */
function beside(problem, section, entry, fields, asked) {
  const [, of = '', way = ''] = /^(?:\[+([\w-]+)[^\]]*\]+ ?)?(.*)$/.exec(problem.key ?? '') ?? [];
  const own = typeof entry.path[1] === 'string' && way.startsWith(`${entry.path[1]} `) ? way.slice(entry.path[1].length + 1) : way;
  const about = (path) => path === own || own.startsWith(`${path} `) || path.startsWith(`${own} `) || (entry.adds && own.endsWith(` ${path}`));
  const found = of === section.name && own ? fields.filter(({ path }) => about(path.join(' '))) : [];
  const field = found.find(({ key }) => asked.input(key).value) ?? found[0];
  return { ...problem, file: null, key: field?.key, message: field ? problem.message : [problem.key, problem.message].filter(Boolean).join(': ') };
}
