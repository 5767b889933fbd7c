// The first questions about the shelf: salts of the table, what is none of them, labelled products, and the acid for the pH.

import { el } from '../dom.js';
import { ask } from '../engine.js';
import { form, typed } from '../fields.js';
import { saltsCalled } from '../bench.js';

/** Boxes to tick; `changed` hears the values of those that are. */
export function checks(name, legend, options, chosen, changed) {
  const boxes = options.map(([value, label, aside]) => el('label', { class: 'check' }, el('input', { type: 'checkbox', name, value, checked: chosen.includes(value), onchange: () => changed(read()) }), el('span', {}, label, aside && el('span', { class: 'with' }, aside))));
  const read = () => boxes.map((box) => box.querySelector('input')).filter((box) => box.checked).map((box) => box.value);
  return { node: el('fieldset', {}, el('legend', {}, legend), boxes), read, boxes };
}

/** Commas between two digits are points of a number, where it has none yet: what the terminal's questions take. */
const pointed = (line) => line.replace(/(?<![\d.])(\d+),(?=\d)/g, '$1.');
const lines = (text) => (text ?? '').split('\n').map((line) => pointed(line.trim())).filter(Boolean);

const OTHERS = [
  { key: 'shelf', label: 'Others, one a line', kind: 'lines', rows: '4', hint: 'An acid with its per cent, as its bottle says: nitric acid 38 %' },
  { key: 'products', label: 'Labelled products, one a line', kind: 'lines', rows: '2', hint: 'Name and label in per cent, as in complete feed: NO3-N 8, NH4-N 2, P2O5 10, K2O 30, MgO 4, Fe 0.1. A liquid with density 1.09 kg/L.' },
];
const ACID = [
  { key: 'acid', label: 'Which acid brings the pH down?', kind: 'text', placeholder: 'none', hint: 'With its per cent: nitric acid 38 %. Several share it: nitric acid 38 %, phosphoric acid 10 %' },
  { key: 'to', label: 'To which pH?', placeholder: '5.8' },
];

const FORMS = [['NO3-N', 'Nitrate nitrogen'], ['NH4-N', 'Ammonium nitrogen'], ['urea-N', 'Urea nitrogen']].map(([key, label]) => ({ key, label, unit: '%', kind: 'text', short: true }));

/** The forms of nitrogen of products whose label states N alone; `read` gives what was typed of each, `[name, more of its label]`. */
export function nitrogenForms(names) {
  const asked = names.map((name) => [name, form('', FORMS, { draft: false })]);
  const given = (values) => Object.entries(values).filter(([, percent]) => !/^[0.,]+$/.test(percent)).map(([key, percent]) => `, ${key} ${typed(percent)}`).join('');
  const nodes = asked.map(([name, { node }]) => el('fieldset', {}, el('legend', {}, `${name}: in which forms is its N?`), node, el('p', { class: 'hint' }, 'As the label says; leave them empty where it says N alone.')));
  return { nodes, read: () => asked.map(([name, { values }]) => [name, given(values())]).filter(([, more]) => more) };
}

/** `{ nodes, forms, read(), state(labels) }`; `read` gives the keys of the request, `state` writes more of a label on its product's line. */
export async function shelfQuestions(chosen, keep) {
  const table = (await ask({ job: 'salts' })).doc.salts;
  const everyday = (salt) => salt.other_names.slice(0, 3).join(', ');
  const salts = checks('shelf', 'What is on the shelf?', table.map((salt) => [salt.id, salt.name, everyday(salt)]), chosen, keep);
  const find = el('input', { id: 'shelf-words', type: 'search', autocomplete: 'off', oninput: async () => {
    const found = await saltsCalled(find.value);
    if (found) salts.boxes.forEach((box, number) => { box.hidden = !box.querySelector('input').checked && !found.some(({ id }) => id === table[number].id); });
  } });
  const [others, acid] = [form('first-others', OTHERS), form('first-acid', ACID)];
  const read = () => {
    const [more, sour] = [others.values(), acid.values()];
    return { shelf: [...salts.read(), ...lines(more.shelf)], products: lines(more.products), acid: sour.acid && [pointed(sour.acid), sour.to].filter(Boolean).join(', ') };
  };
  const state = (labels) => {
    const input = others.input('products');
    const of = (line) => labels.find(([name]) => name === line.split(':')[0].trim())?.[1] ?? '';
    if (!labels.length) return;
    input.value = input.value.split('\n').map((line) => line.trimEnd() + of(line)).join('\n');
    input.dispatchEvent(new Event('input', { bubbles: true }));
  };
  const nodes = [el('div', { class: 'field' }, el('label', { for: 'shelf-words' }, 'Find a salt'), find), salts.node, others.node, acid.node];
  return { nodes, forms: [others, acid], read, state };
}
