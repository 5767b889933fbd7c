// The first time: tank, water, scales and shelf in a few questions; then the first weights.

import { el } from '../dom.js';
import { ask } from '../engine.js';
import { form, typed } from '../fields.js';
import { refused } from '../result.js';
import * as store from '../store.js';

const SCALES = ['1 g', '0.1 g', '0.01 g', '0.001 g'];

function checks(name, legend, options, chosen, changed) {
  const boxes = options.map(([value, label, aside]) => el('label', { class: 'check' }, el('input', { type: 'checkbox', name, value, checked: chosen.includes(value), onchange: () => changed(read()) }), el('span', {}, label, aside && el('span', { class: 'with' }, aside))));
  const read = () => boxes.map((box) => box.querySelector('input')).filter((box) => box.checked).map((box) => box.value);
  return { node: el('fieldset', {}, el('legend', {}, legend), boxes), read, boxes };
}

export async function first() {
  const kept = (await store.get('first')) ?? {};
  const keep = (more) => store.change('first', (before) => ({ ...before, ...more }));
  const table = (await ask({ job: 'salts' })).doc.salts;
  const everyday = (salt) => salt.other_names.slice(0, 3).join(', ');
  const scales = checks('scales', 'Which steps do your scales show?', SCALES.map((step) => [step, step]), kept.scales ?? ['0.1 g'], (value) => keep({ scales: value }));
  const shelf = checks('shelf', 'What is on the shelf?', table.map((salt) => [salt.id, salt.name, everyday(salt)]), kept.shelf ?? [], (value) => keep({ shelf: value }));
  const find = el('input', { id: 'shelf-words', type: 'search', autocomplete: 'off', oninput: () => {
    const words = find.value.toLowerCase();
    shelf.boxes.forEach((box, number) => { box.hidden = !box.querySelector('input').checked && ![table[number].id, box.textContent].join(' ').toLowerCase().includes(words); });
  } });
  const report = form('first-report', [
    { key: 'Ca', label: 'Calcium, ppm (mg/L)' }, { key: 'Mg', label: 'Magnesium, ppm' }, { key: 'Na', label: 'Sodium, ppm' }, { key: 'Cl', label: 'Chloride, ppm' },
    { key: 'S', label: 'Sulfur, ppm', more: true }, { key: 'SO4', label: 'or sulfate, ppm', more: true }, { key: 'NO3', label: 'Nitrate, ppm', more: true }, { key: 'K', label: 'Potassium, ppm', more: true },
    { key: 'alkalinity', label: 'Alkalinity', unit: 'mg/L CaCO3', hint: 'Or with its unit: 3.1 meq/L.' }, { key: 'pH', label: 'pH' }, { key: 'EC', label: 'EC', unit: 'mS/cm' },
  ]);
  const tapReport = el('fieldset', {}, el('legend', {}, 'The report of the water supplier'), report.node);
  const main = form('first', [
    { key: 'tank', label: 'How much does the tank hold?', unit: 'L', placeholder: '60' },
    { key: 'water', label: 'Which water?', kind: 'choice', options: [['rain', 'rain, reverse osmosis or distilled'], ['report', 'tap, and I have a report'], ['tap', 'tap, without a report']] },
  ], { changed: () => { tapReport.hidden = main.values().water !== 'report'; } });
  const rest = el('div', {});
  const make = async () => {
    const values = main.values();
    const water = values.water === 'rain' ? { from: 'rain' } : { from: 'tap', report: values.water === 'report' ? Object.entries(report.values()).map(([key, value]) => `${key}=${typed(value)}`) : [] };
    const answered = await ask({ job: 'new', tank: values.tank ?? '', water, scales: scales.read(), shelf: shelf.read() });
    main.clear();
    rest.replaceChildren();
    if (!answered.ok) {
      const left = main.refuse(answered.doc.problems).map((problem) => (problem.file === 'bench' ? { ...problem, file: null } : problem));
      rest.replaceChildren(left.length ? refused(left) : '');
      return;
    }
    const before = await store.bench();
    if (before && before !== answered.doc.text && !confirm('There is a bench file already. Replace it by a new one? The old one is kept among the copies.')) return;
    if (before) await store.put('bench-before', before);
    await store.put('bench', answered.doc.text);
    location.hash = '#mix';
  };
  await main.restore();
  await report.restore();
  tapReport.hidden = main.values().water !== 'report';
  return el('div', {}, el('h1', {}, 'My bench'), main.node, tapReport, scales.node,
    el('div', { class: 'field' }, el('label', { for: 'shelf-words' }, 'Find a salt'), find), shelf.node,
    el('p', { class: 'hint' }, 'Formulas for growth and for the push into flower come along: common practice, no source. Everything can be changed later under Bench.'),
    rest, el('div', { class: 'actions' }, el('button', { type: 'button', class: 'main', onclick: make }, 'Make my bench and weigh')));
}

