// The description of the bench file, and how a value of it is shown in a field and read from one.

import { typed } from '../fields.js';

/* global BENCH_KEYS */ // put in by build.mjs, from docs/bench-file.md
export const PARTS = BENCH_KEYS;

const TITLES = { '': 'Name and bottles', helper: 'Dilute bottles', formula: 'Formulas' };
const ELEMENTS = { N: 'nitrogen', P: 'phosphorus', K: 'potassium', Ca: 'calcium', Mg: 'magnesium', S: 'sulfur', Cl: 'chloride', Na: 'sodium', Si: 'silicon', Fe: 'iron', Mn: 'manganese', Zn: 'zinc', B: 'boron', Cu: 'copper', Mo: 'molybdenum' };

const plain = (key) => (/^[a-z]{2}/.test(key) ? key[0].toUpperCase() + key.slice(1) : key).replaceAll('_', ' ').replace(/ l$/, ' L');
export const titleOf = ({ name, kind }) => TITLES[name] ?? plain(name) + (kind === 'list' ? 's' : '');
export const isTable = (value) => typeof value === 'object' && value !== null && !Array.isArray(value);

const AMOUNT = /^-?\d+(?:\.\d+)? (.+)$/;
const unitOf = ({ example, unit }) => (typeof example === 'string' ? AMOUNT.exec(example)?.[1] : isTable(example) ? undefined : unit);

/** A value as a field shows it: without the unit that stands beside it. */
function shown(value, unit) {
  if (value === undefined) return '';
  if (Array.isArray(value)) return value.join(', ');
  if (isTable(value)) return Object.entries(value).map(([key, amount]) => `${key} = ${amount}`).join('\n');
  const text = String(value);
  return unit && text.endsWith(` ${unit}`) && AMOUNT.test(text) ? text.slice(0, -unit.length - 1) : text;
}

/** What a field holds as the file has it: null where nothing is typed. */
function read(text, row) {
  const { example } = row;
  const number = (words) => (/^-?\d+(\.\d+)?$/.test(typed(words)) ? Number(typed(words)) : typed(words));
  if (text.trim() === '') return null;
  if (row.list) {
    const all = text.split(/[;\n]|,\s|(?<=[a-z"]),/i).map((one) => typed(one)).filter(Boolean);
    return all.length === 1 && !Array.isArray(example) ? all[0] : all;
  }
  if (isTable(example)) {
    const all = {};
    for (const line of text.split('\n').filter((one) => one.trim())) {
      const [key, ...amount] = line.split('=').map((part) => part.trim());
      const words = amount.join('=');
      // what stands twice is no number, and is refused by that
      all[key] = Object.hasOwn(all, key) ? `${all[key]} ${words}` : typeof Object.values(example)[0] === 'number' ? number(words) : typed(words);
    }
    return all;
  }
  return typeof example === 'string' ? typed(text, unitOf(row)) : number(text);
}

const kindOf = ({ example, options, list }) => {
  if (options) return 'choice';
  if (isTable(example)) return 'lines';
  // a unit is typed with letters, and a number may be a day before another
  return /^\d{4}-/.test(example) ? 'date' : typeof example === 'string' || list ? 'text' : undefined;
};

/** A line of what stands at a place, for a heading. */
export function brief(value, of = 4) {
  if (!isTable(value)) return shown(value);
  const all = Object.entries(value).filter(([key]) => key !== 'id');
  return all.slice(0, of).map(([key, one]) => `${key.replaceAll('_', ' ')} ${brief(one, 3).replaceAll('\n', ', ')}`).join(', ') + (all.length > of ? ' …' : '');
}

/**
 * The fields of a table of the file: as `form` takes them, and `path`, `row` and `was` beside.
 *
 * * `choices`: names to choose from, by key
 */
export function fieldsOf(rows, written, choices, above = [], fold = {}) {
  return rows.flatMap((row) => row.keys.flatMap((key) => {
    const [path, value, unit] = [[...above, key], written?.[key], unitOf(row)];
    const name = ELEMENTS[key] ? `${key}, ${ELEMENTS[key]}` : plain(key);
    if (row.inner) {
      const said = typeof value === 'number' ? `${value} ${unit}` : brief(value) || (row.keys.length > 1 ? '' : row.means.split('; otherwise')[0]);
      return fieldsOf(row.inner, inside(row, value), choices, path, { more: said ? `${name}: ${said}` : name });
    }
    const text = shown(value, unit);
    const options = row.options ?? choices[key];
    const many = row.keys.length > 2;
    const grouped = many ? { more: row.means, open: true, short: true } : {};
    return {
      key: `/${path.join('/')}`, path, row, was: value, label: name, value: text, required: row.must, hint: many ? undefined : row.means + (isTable(row.example) ? `. One a line: ${shown(row.example).replace('\n', ', then ')}` : ''),
      kind: kindOf({ ...row, options }), options: options && [['', 'not stated'], ...options], unit: AMOUNT.test(text) ? undefined : unit, ...grouped, ...fold,
    };
  }));
}

/** `N = 90` is what `N = { target = 90 }` is. */
const inside = (row, value) => (value === undefined || isTable(value) ? value : { [row.inner[0].keys[0]]: value });

/** What is typed as a table of the file, and the keys of it that differ from what is written. */
export function tableOf(fields, input) {
  const [all, changed] = [{}, new Set()];
  for (const { key, path, row, was, value } of fields) {
    const text = input(key).value;
    const now = text === value ? was : read(text, row);
    if (text !== value) changed.add(path[0]);
    if (now === undefined || now === null) continue;
    if (path.length === 1) all[path[0]] = now;
    else (all[path[0]] ??= {})[path[1]] = now;
  }
  for (const [key, value] of Object.entries(all)) {
    const row = fields.find(({ path }) => path[0] === key && path[1] === 'target');
    if (row && isTable(value) && Object.keys(value).join() === 'target') all[key] = value.target;
  }
  return { all, changed };
}
