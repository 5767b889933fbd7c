// The salts: found by any name they have, with what they hold and what to beware of.

import { el } from '../dom.js';
import { ask, SHEET, TEXT } from '../engine.js';
import { show } from '../result.js';
import * as bench from '../bench.js';

const MOST = 40;

// a star: by a stricter source than the EU class
const signal = (salt) => salt.signal_word ?? (salt.stricter_word && `${salt.stricter_word}*`);

export async function salts(id) {
  if (id) {
    const place = el('section', { class: 'result', 'aria-label': 'Salt' });
    const answered = await ask({ job: 'salts', words: id, bench: await bench.text() }, SHEET | TEXT);
    await show('salt', place, answered);
    return el('div', {}, el('h1', {}, answered.ok ? answered.doc.salts[0].name : 'Salt'), el('p', {}, el('a', { class: 'button', href: '#salts' }, 'All salts')), place);
  }
  const all = await bench.salts();
  const list = el('ul', { class: 'salts' });
  const count = el('p', { class: 'hint', role: 'status' });
  const find = el('input', { id: 'salt-words', type: 'search', autocomplete: 'off', autocapitalize: 'off', spellcheck: 'false' });
  const draw = async () => {
    const found = await bench.saltsCalled(find.value);
    if (!found) return; // more was typed since
    count.textContent = found.length > MOST ? `${found.length} salts, the first ${MOST} shown` : `${found.length} of ${all.length} salts`;
    list.replaceChildren(...found.slice(0, MOST).map((salt) => el('li', {}, el('a', { href: `#salts/${encodeURIComponent(salt.id)}` },
      el('strong', {}, salt.name), signal(salt) && el('span', { class: 'signal' }, signal(salt)),
      el('span', { class: 'with' }, [...salt.other_names.slice(0, 3), Object.entries(salt.nutrients_percent).slice(0, 5).map(([element, percent]) => `${element} ${percent.toFixed(1)} %`).join(', ')].filter(Boolean).join(' · '))))));
  };
  find.addEventListener('input', draw);
  await draw();
  return el('div', {}, el('h1', {}, 'Salts'), el('div', { class: 'field' }, el('label', { for: 'salt-words' }, 'Name, everyday name or formula'), find), count, list);
}
