// The bench file: as forms part by part, and as text for whoever likes it, judged while it is typed; it is kept whole, comments
// and all.

import { el, save } from '../dom.js';
import { tell, teller } from '../asking.js';
import { ask, starter } from '../engine.js';
import { refused } from '../result.js';
import { overview, part } from './parts.js';
import * as store from '../store.js';

const PAUSE_MS = 250;

/** `which`: nothing for the parts, `part/NAME` for one of them, `text` for the text, a number for a line of it. */
export async function benchFile(which = '') {
  const text = which === 'text' || Number(which) > 0;
  const name = /^part\/(.*)$/.exec(which)?.[1];
  const { ok, doc } = text ? {} : await ask({ job: 'bench-read', bench: await store.bench() });
  const shown = text || !ok;
  const tab = (to, words, here) => el('a', { class: 'button', href: to, 'aria-current': here ? 'page' : undefined }, words);
  const tabs = el('nav', { class: 'actions', 'aria-label': 'Forms or text' }, tab('#bench', 'Forms', !shown), tab('#bench/text', 'Text', shown));
  if (shown) return el('div', {}, el('h1', {}, 'Bench file'), tabs, await asText(Number(which)));
  if (name !== undefined) return part(name, doc);
  return el('div', {}, el('h1', {}, 'Bench'), tabs, overview(doc.written), el('div', { class: 'actions' }, el('a', { class: 'button', href: '#first' }, 'First questions')));
}

async function asText(line) {
  let before = await store.bench();
  const draft = await store.get('draft:bench');
  const text = el('textarea', { id: 'bench-text', class: 'code', rows: '24', spellcheck: 'false', autocapitalize: 'off', autocomplete: 'off', wrap: 'off' });
  // what is half typed is held against the text that it was made from, not against what another tab or a form has kept since
  if (draft?.text !== undefined) before = draft.from;
  text.value = draft?.text ?? before ?? (await starter());
  const state = teller();
  const problems = el('div', {});
  const judge = async () => {
    const { ok, doc } = await ask({ job: 'bench-read', bench: text.value });
    const wrong = ok ? [] : doc.problems;
    problems.replaceChildren(wrong.length ? refused(wrong) : el('p', { class: 'hint' }, 'Nothing wrong with it.'));
    return wrong.length === 0;
  };
  let timer;
  text.addEventListener('input', () => {
    store.put('draft:bench', { text: text.value, from: before });
    clearTimeout(timer);
    timer = setTimeout(judge, PAUSE_MS);
  });
  const keep = async () => {
    if (!(await judge())) {
      tell(state, 'Not kept: mend what is said above first. What you typed stays here.');
      return;
    }
    if (!(await store.swap('bench', before, text.value))) {
      tell(state, 'The bench was changed meanwhile, in a form or in another tab; nothing was overwritten. What you typed stays here: copy it, then take the other one.');
      problems.replaceChildren(el('button', { type: 'button', onclick: async () => { await store.put('draft:bench', undefined); location.reload(); } }, 'Take the other one'));
      return;
    }
    before = text.value;
    await store.put('draft:bench', undefined);
    tell(state, 'Kept.');
  };
  await judge();
  if (line) setTimeout(() => goTo(text, line), 50);
  return el('div', {}, el('p', { class: 'intro' }, 'The same file that the terminal reads.'),
    el('label', { for: 'bench-text' }, 'Text of the file'), text, problems,
    el('div', { class: 'actions' }, el('button', { type: 'button', class: 'main', onclick: keep }, 'Keep'), el('button', { type: 'button', onclick: () => save('bench.toml', text.value) }, 'Save as a file')), state);
}

function goTo(text, line) {
  const lines = text.value.split('\n');
  const from = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
  text.focus();
  text.setSelectionRange(from, from + (lines[line - 1]?.length ?? 0));
  text.scrollTop = (text.scrollHeight / lines.length) * Math.max(0, line - 4);
}
