// Shows what the library answered: its sheet in a shadow root with the sheet's own style, so that what is on the screen is what
// is printed; else its report as text. Boxes of a sheet that are ticked survive a reload, and are cleared when weights change.

import { el } from './dom.js';
import * as store from './store.js';

const CLOSER = `
:host { display: block; }
.page { background: var(--paper); color: var(--ink); font: 1rem/1.45 ui-sans-serif, system-ui, sans-serif; overflow-wrap: anywhere; }
.scroll { overflow-x: auto; }
.scroll:focus-visible { outline: 3px solid var(--accent); }
@media screen {
  .weights tbody tr { cursor: pointer; }
  .weights tbody td, .weights tbody th { padding-block: 0.55rem; }
  .weights .amount { font-size: min(clamp(2.1rem, 10vw, 3.4rem), 13vw); font-weight: 700; white-space: normal; }
  .weights thead .amount { font-size: 0.85rem; font-weight: normal; }
  .weights tbody th { font-size: 1.25rem; }
  .weights input[type="checkbox"], .rows input[type="checkbox"] { width: min(2.75rem, 60px); height: min(2.75rem, 60px); }
  .weights tr.done .amount, .weights tr.done label { text-decoration: line-through; text-decoration-thickness: 2px; color: var(--quiet); }
  summary { cursor: pointer; min-height: 2.75rem; padding-block: 0.4rem; color: var(--accent); }
  summary h2 { display: inline; }
  .page h1 { font-size: clamp(1.7rem, 7vw, 2.5rem); }
}
@media screen and (max-width: 40rem) {
  .weights thead { display: none; }
  .weights tbody tr { display: grid; grid-template-columns: auto 1fr; align-items: center; border-bottom: 1px solid var(--soft); padding: 0.3rem 0; }
  .weights tbody td, .weights tbody th { border: 0; padding-block: 0.1rem; }
  .weights .box { grid-row: 1 / span 2; padding-inline-end: 0.8rem; width: auto; display: flex; flex-direction: column; align-items: center; }
  .weights .number { min-width: 0; margin: 0; }
  .weights .spread, .weights tbody th { min-width: 0; }
  svg { max-width: 100%; }
  ol.first b { white-space: normal; font-size: min(1.9rem, 9vw); }
  .weights .amount { text-align: start; width: auto; }
  .weights .amount .after { min-width: 0; }
  .weights tbody tr.within { grid-template-columns: 1fr; }
  .severity { width: auto; padding-inline: 0.4rem; }
  .findings li { flex-direction: column; gap: 0.2rem; }
  .pair, .beside-numbers { grid-template-columns: minmax(0, 1fr); }
  .numbers { font-size: 0.85rem; }
}`;

/** Sections of a sheet that one reads at a desk: on the screen they open on demand, in print they are all there. */
const LATER = /^(Balance|Calcium against|Timeline|The ways|Labels to cut out|What the labels say|Sources)/;

function fold(section) {
  const [heading, ...rest] = section.childNodes;
  const details = el('details', {}, el('summary', {}, heading), rest);
  section.append(details);
  window.addEventListener('beforeprint', () => { details.open = true; });
}

/** Adds what a sheet with figures has more than the one that is shown: pictures and labels, which take longer to reckon. */
export function extend(place, html) {
  const root = place.querySelector('.sheet')?.shadowRoot;
  if (!root || !html) return;
  const headings = (main) => [...main.querySelectorAll(':scope > section > h2, :scope > section > details > summary > h2')].map((heading) => heading.textContent);
  const here = root.querySelector('.body');
  const shown = new Set(headings(here));
  for (const section of [...mainOf(html).main.querySelectorAll(':scope > section')]) {
    if (shown.has(section.querySelector('h2').textContent)) continue;
    for (const node of [section, ...section.querySelectorAll('[id], [for], [aria-labelledby]')]) {
      for (const name of ['id', 'for', 'aria-labelledby']) if (node.hasAttribute(name)) node.setAttribute(name, `more-${node.getAttribute(name)}`);
    }
    here.querySelector(':scope > footer').before(section);
  }
}

/** A table that may be wider than the screen scrolls by itself, also by keyboard. */
function scrolling(table) {
  const name = table.closest('section')?.querySelector('h2')?.textContent.trim() ?? 'Table';
  const around = table.closest('.scroll') ?? el('div', { class: 'scroll' });
  if (!around.contains(table)) {
    table.replaceWith(around);
    around.append(table);
  }
  around.setAttribute('tabindex', '0');
  around.setAttribute('role', 'group');
  around.setAttribute('aria-label', name);
}

/** The part of a sheet that is shown, and its style. */
function mainOf(html) {
  // the style is taken out before the markup is read: a style element would be against the page's own content policy
  const [before, look, after] = html.split(/<style>|<\/style>/);
  const parsed = new DOMParser().parseFromString(before + after, 'text/html');
  const main = el('div', { class: 'body' }, [...document.adoptNode(parsed.querySelector('main')).childNodes]);
  for (const head of main.querySelectorAll('thead th:empty')) head.replaceWith(el('td', { class: head.className || undefined }));
  for (const wide of main.querySelectorAll('table.numbers, table.rows, .scroll')) scrolling(wide);
  for (const section of main.querySelectorAll(':scope > section')) if (LATER.test(section.firstElementChild.textContent)) fold(section);
  return { main, style: look.replaceAll(':root', ':host').replaceAll(/(^|\n)(html|body) \{/g, '$1.page {') };
}

function sheetNode(html) {
  const { main, style } = mainOf(html);
  const host = el('div', { class: 'sheet' });
  const root = host.attachShadow({ mode: 'open' });
  const sheets = [style, CLOSER].map((text) => {
    const sheet = new CSSStyleSheet();
    sheet.replaceSync(text);
    return sheet;
  });
  root.adoptedStyleSheets = sheets;
  root.append(el('div', { class: 'page' }, main));
  return host;
}

/** What a tick stands for: the weights themselves, wherever the answer has them, and the day for which they are. */
function weightsOf(doc) {
  const found = [];
  const look = (node) => {
    if (Array.isArray(node)) return node.forEach(look);
    if (!node || typeof node !== 'object') return;
    if (Array.isArray(node.doses)) {
      const doses = node.doses.map((dose) => [dose.salt ?? dose.helper, dose.grams, dose.millilitres]);
      found.push([node.formula ?? null, node.volume_l ?? null, node.drain_l ?? null, node.water_l ?? null, doses]);
    }
    if (node.correction) found.push([node.correction.salt, node.correction.grams]);
    Object.values(node).forEach(look);
  };
  look(doc);
  return JSON.stringify([doc.job, doc.date ?? null, found]);
}

/** Boxes in a sheet: put back as they were, kept when they change; `weighing(left)` hears how many are left. */
async function ticks(host, place, doc, weighing) {
  const boxes = [...host.shadowRoot.querySelectorAll('input[type="checkbox"]')];
  if (!boxes.length) return weighing(0, 0);
  const weights = weightsOf(doc);
  const key = `ticks:${place}`;
  const kept = await store.get(key);
  const done = new Set(kept?.weights === weights ? kept.done : []);
  const show = () => {
    for (const box of boxes) box.closest('tr')?.classList.toggle('done', box.checked);
    weighing(boxes.filter((box) => !box.checked).length, boxes.length);
  };
  for (const box of boxes) {
    box.checked = done.has(box.id);
    box.addEventListener('change', () => {
      if (box.checked) done.add(box.id); else done.delete(box.id);
      store.put(key, { weights, done: [...done] });
      show();
    });
    box.closest('tr')?.addEventListener('click', (event) => {
      if (event.target.closest('label, input, a, summary')) return;
      box.click();
    });
  }
  show();
}

/** Puts an answer or a refusal in a place of the page. */
export async function show(place, into, answered, { problems, weighing = () => {} } = {}) {
  if (!answered.ok) {
    weighing(0, 0);
    into.replaceChildren(refused(problems ?? answered.doc.problems, answered.doc.conflict));
    return;
  }
  if (!answered.sheet) {
    weighing(0, 0);
    into.replaceChildren(el('pre', { class: 'report' }, answered.text));
    return;
  }
  const host = sheetNode(answered.sheet);
  await ticks(host, place, answered.doc, weighing);
  into.replaceChildren(host);
}

/** Problems in the library's own words; one in the bench file leads to its line. */
export function refused(problems, conflict = []) {
  if (!problems.length) return el('p', { class: 'hint' }, 'See beside the fields above.');
  return el('div', { class: 'problems', role: 'alert' },
    problems.map((problem) => el('div', { class: 'problem' },
      el('p', {}, problem.file === 'bench' && problem.line ? el('a', { href: `#bench/${problem.line}` }, `Bench file, line ${problem.line}`) : null, problem.file === 'bench' && problem.key ? ` ${problem.key}: ` : problem.file === 'bench' ? ' ' : null, problem.message),
      problem.help && el('p', { class: 'help' }, problem.help))),
    conflict.length ? el('ul', {}, conflict.map((limit) => el('li', {}, limit.words))) : null);
}
