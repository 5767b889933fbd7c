// Forms from a list of fields: `{ key, label, hint, kind, unit, options, value, more }`; `more` folds a field away, under words
// of its own where it is text, and in its place where it stands `open`. What is half typed is kept at once.

import { el } from './dom.js';
import * as store from './store.js';

/** What a grower types, as the library reads it: a decimal comma where it can mean nothing else, and the field's own unit where none is typed. */
export function typed(text, unit) {
  const point = text.trim().replace(/^(-?\d+),(\d{1,2}|\d{4,})(?=$|[^\d.,])/, '$1.$2');
  return unit && /^-?\d+(\.\d+)?$/.test(point) ? `${point} ${unit}` : point;
}

/** One of several lines, `SALT=AMOUNT`. */
function dose(line) {
  const [what, ...amount] = line.split('=');
  return amount.length ? `${what.trim()}=${typed(amount.join('='))}` : line;
}

let count = 0;

// What was typed on this page goes before what another tab has half typed: a form that is drawn again must not take that.
const typedHere = new Map();

/** Answers a question of a form that is about to be shown; what else is half typed in it stays. */
export async function answer(name, values) {
  const all = { ...(typedHere.get(name) ?? (await store.get(`draft:${name}`))), ...values };
  typedHere.set(name, all);
  await store.put(`draft:${name}`, all);
}

function control(field, id, described) {
  const props = { id, name: field.key, 'aria-describedby': described, autocomplete: 'off', required: field.required };
  if (field.kind === 'choice') {
    const options = field.options.map((option) => {
      const [value, label] = Array.isArray(option) ? option : [option, option];
      return el('option', { value }, label);
    });
    return el('select', props, options);
  }
  if (field.kind === 'lines') return el('textarea', { ...props, rows: field.rows ?? '4', spellcheck: 'false', autocapitalize: 'off' });
  if (field.kind === 'date') return el('input', { ...props, type: 'date' });
  return el('input', { ...props, type: 'text', inputmode: field.kind === 'text' ? 'text' : 'decimal', spellcheck: 'false', autocapitalize: 'off', placeholder: field.placeholder });
}

/**
 * A form. `changed(values)` is called after every change; `values()` gives what is typed by key, without what is empty;
 * `refuse(problems)` puts every problem beside its field and gives back those that have none. `draft`: false where nothing half
 * typed is kept, `'changes'` where only what differs from the values is, so that what is changed elsewhere meanwhile shows.
 */
export function form(name, fields, { changed = () => {}, submit, button, draft = true } = {}) {
  const rows = new Map();
  const folds = new Map();
  const shown = [];
  const fold = (words, open) => {
    const there = folds.get(words) ?? el('details', { class: 'more', open }, el('summary', {}, words));
    if (open && !folds.has(words)) shown.push(there);
    folds.set(words, there);
    return there;
  };
  for (const field of fields) {
    const id = `field-${++count}`;
    const said = el('p', { id: `${id}-said`, class: 'refused', role: 'alert', hidden: true });
    const hint = field.hint && el('p', { id: `${id}-hint`, class: 'hint' }, field.hint);
    const input = control(field, id, [hint && `${id}-hint`, `${id}-said`].filter(Boolean).join(' '));
    if (field.value !== undefined) input.value = field.value;
    const unit = field.unit && el('span', { class: 'unit', 'aria-hidden': 'true' }, field.unit);
    const row = el('div', { class: `field ${field.large ? 'large' : ''} ${field.short ? 'short' : ''}` }, el('label', { for: id }, field.label), el('div', { class: 'entry' }, input, unit), hint, said);
    const opens = field.more && fold(field.more === true ? 'More' : field.more, field.open);
    rows.set(field.key, { field, input, said, opens, first: input.value });
    if (opens) opens.append(row);
    else shown.push(row);
  }
  const values = () => {
    const all = {};
    for (const [key, { field, input }] of rows) {
      const text = input.value.trim();
      if (text === '') continue;
      if (field.kind === 'lines' && field.list) all[key] = input.value.split('\n').map((line) => line.trim()).filter(Boolean).map(dose);
      else all[key] = field.kind === 'text' || field.kind === 'choice' || field.kind === 'lines' ? text : typed(text, field.unit);
    }
    return all;
  };
  const raw = () => Object.fromEntries([...rows].filter(([, { input, first }]) => draft !== 'changes' || input.value !== first).map(([key, { input }]) => [key, input.value]));
  const keep = () => draft && store.put(`draft:${name}`, raw());
  const clear = () => {
    for (const { input, said } of rows.values()) {
      said.hidden = true;
      said.textContent = '';
      input.removeAttribute('aria-invalid');
    }
  };
  const heard = () => {
    node.dataset.touched = 'true';
    typedHere.set(name, raw());
    keep();
    changed(values());
  };
  const node = el('form', { novalidate: true, oninput: heard, onsubmit: (event) => { event.preventDefault(); submit?.(values()); } },
    shown, [...folds.values()].filter((fold) => !shown.includes(fold)), submit && el('button', { type: 'submit', class: 'main' }, button));
  return {
    node,
    values,
    raw,
    clear,
    input: (key) => rows.get(key)?.input,
    /** Puts back what was half typed. */
    async restore() {
      const before = draft && (typedHere.get(name) ?? (await store.get(`draft:${name}`)));
      if (!before) return;
      for (const [key, { input, field, opens }] of rows) {
        if (before[key] === undefined || (before[key] === '' && draft !== 'changes')) continue;
        if (field.kind === 'choice' && ![...input.options].some((option) => option.value === before[key])) continue;
        input.value = before[key];
        if (opens) opens.open = true;
      }
    },
    async empty() {
      delete node.dataset.touched;
      typedHere.set(name, {});
      for (const { field, input } of rows.values()) input.value = field.value ?? '';
      if (draft) await store.put(`draft:${name}`, {});
    },
    refuse(problems) {
      clear();
      const rest = [];
      for (const problem of problems) {
        const row = problem.file ? null : rows.get(problem.key);
        if (!row) {
          rest.push(problem);
          continue;
        }
        row.said.textContent = [problem.message, problem.help].filter(Boolean).join('. ');
        row.said.hidden = false;
        row.input.setAttribute('aria-invalid', 'true');
        if (row.opens) row.opens.open = true;
      }
      return rest;
    },
  };
}
