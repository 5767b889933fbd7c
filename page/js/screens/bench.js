// The bench file: as text for whoever likes it, judged while it is typed; it is kept whole, comments and all.

import { el, save } from '../dom.js';
import { ask, starter } from '../engine.js';
import { refused } from '../result.js';
import * as store from '../store.js';

const PAUSE_MS = 250;

export async function benchFile(line) {
  let before = await store.bench();
  const draft = await store.get('draft:bench');
  const text = el('textarea', { id: 'bench-text', class: 'code', rows: '24', spellcheck: 'false', autocapitalize: 'off', autocomplete: 'off', wrap: 'off' });
  text.value = draft ?? before ?? (await starter());
  const state = el('p', { class: 'state', role: 'status' });
  const problems = el('div', {});
  const judge = async () => {
    const { ok, doc } = await ask({ job: 'bench-read', bench: text.value });
    const wrong = ok ? [] : doc.problems;
    problems.replaceChildren(wrong.length ? refused(wrong) : el('p', { class: 'hint' }, 'Nothing wrong with it.'));
    return wrong.length === 0;
  };
  let timer;
  text.addEventListener('input', () => {
    store.put('draft:bench', text.value);
    clearTimeout(timer);
    timer = setTimeout(judge, PAUSE_MS);
  });
  const keep = async () => {
    if (!(await judge())) {
      state.textContent = 'Not kept: mend what is said below first. What you typed stays here.';
      return;
    }
    if (!(await store.swap('bench', before, text.value))) {
      state.textContent = 'Another tab has changed the bench meanwhile; nothing was overwritten. What you typed stays here: copy it, then take the other one.';
      problems.replaceChildren(el('button', { type: 'button', onclick: async () => { await store.put('draft:bench', undefined); location.reload(); } }, 'Take the other one'));
      return;
    }
    before = text.value;
    await store.put('draft:bench', undefined);
    state.textContent = 'Kept.';
  };
  await judge();
  if (line) setTimeout(() => goTo(text, Number(line)), 50);
  return el('div', {}, el('h1', {}, 'Bench file'),
    el('p', { class: 'intro' }, 'Tank, water, scales, shelf, bottles and formulas: the same file that the terminal reads.'),
    el('label', { for: 'bench-text' }, 'Text of the file'), text, state, problems,
    el('div', { class: 'actions' }, el('button', { type: 'button', class: 'main', onclick: keep }, 'Keep'), el('button', { type: 'button', onclick: () => save('bench.toml', text.value) }, 'Save as a file'), el('a', { class: 'button', href: '#first' }, 'First questions')));
}

function goTo(text, line) {
  const lines = text.value.split('\n');
  const from = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
  text.focus();
  text.setSelectionRange(from, from + (lines[line - 1]?.length ?? 0));
  text.scrollTop = (text.scrollHeight / lines.length) * Math.max(0, line - 4);
}
