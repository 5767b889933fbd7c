// The first time: tank, water, instruments and shelf in a few questions; then the first weights.

import { askBack } from '../asking.js';
import { el } from '../dom.js';
import { ask, SHEET } from '../engine.js';
import { form, typed } from '../fields.js';
import { refused, show } from '../result.js';
import * as store from '../store.js';
import { checks, nitrogenForms, shelfQuestions } from './shelf.js';

const MAKE = 'Make my bench and weigh';
/** No name that several salts go by, and no nitrogen without its forms. */
const NOTHING = JSON.stringify([[], []]);
const SCALES = ['1 g', '0.1 g', '0.01 g', '0.001 g'];

/** Alkalinity as reports state it; the library takes every unit. */
const ALKALINITY = [['mg/L CaCO3', 'mg/L (ppm) of CaCO3'], ['mg/L HCO3', 'mg/L of bicarbonate, HCO3'], ['mmol/L', 'mmol/L or meq/L (acid capacity to pH 4.3)'], ['°dH', 'German degrees, °dH or KH'], ['°fH', 'French degrees, °fH or TAC']];

const WATER = [
  { key: 'water', label: 'Which water?', kind: 'choice', options: [['rain', 'rain, reverse osmosis or distilled'], ['tap', 'tap or well'], ['both', 'both: rain as far as there is some, and tap']] },
  { key: 'rain', label: 'How much rain is there for a tank?', unit: 'L', placeholder: 'enough', only: (values) => values.water === 'both' },
  { key: 'known', label: 'What is known of the tap water?', kind: 'choice', options: [['report', 'a report of the supplier'], ['ec', 'no report, but what my EC meter reads of it'], ['nothing', 'nothing']], only: (values) => values.water !== 'rain' },
  { key: 'tap_ec', label: 'EC of the tap water', unit: 'mS/cm', hint: 'Or as the meter shows it: 300 ppm. Without a report no acid is dosed, and EC is told less surely.', only: (values) => values.water !== 'rain' && values.known === 'ec' },
];
const hasReport = (values) => values.water !== 'rain' && values.known === 'report';

const TANK = [
  { key: 'tank', label: 'How much does the tank hold?', unit: 'L', placeholder: '60', hint: 'When it is full; in litres, or with its unit: 15.9 gal.' },
  { key: 'temperature', label: 'How warm is it?', unit: 'C', placeholder: '25' },
  { key: 'meter_scale', label: 'What does your EC meter show?', kind: 'choice', options: [['', 'mS/cm or uS/cm'], ['500', 'ppm, scale 500'], ['640', 'ppm, scale 640'], ['700', 'ppm, scale 700']] },
];

const REPORT = [
  { key: 'Ca', label: 'Calcium, ppm (mg/L)' }, { key: 'Mg', label: 'Magnesium, ppm' }, { key: 'Na', label: 'Sodium, ppm' }, { key: 'Cl', label: 'Chloride, ppm' },
  { key: 'SO4', label: 'Sulfate, ppm' }, { key: 'NO3', label: 'Nitrate, ppm' },
  { key: 'alkalinity', label: 'Alkalinity', hint: 'Also called carbonate hardness or acid capacity. It decides how much acid the water takes.' },
  { key: 'stated', label: 'The report states it in', kind: 'choice', options: ALKALINITY },
  { key: 'pH', label: 'pH' }, { key: 'EC', label: 'EC', unit: 'mS/cm' },
  { key: 'S', label: 'Sulfur, ppm, in place of sulfate', more: true }, { key: 'NO3-N', label: 'Nitrate as nitrogen, ppm, in place of nitrate', more: true }, { key: 'K', label: 'Potassium, ppm', more: true },
];

const INSTRUMENTS = [
  { key: 'step', label: 'From one mark of the syringe to the next', unit: 'mL', placeholder: '0.5' },
  { key: 'capacity', label: 'The syringe holds', unit: 'mL', placeholder: '60' },
  { key: 'jug_step', label: 'From one mark of a measuring jug to the next', unit: 'mL', more: 'A measuring jug' },
  { key: 'jug_capacity', label: 'The jug is full at', unit: 'mL', hint: 'Or with its unit: 1 L.', more: 'A measuring jug' },
];

/** What the report says, each as the library takes it; a bare alkalinity gets the unit that was chosen. */
function reported({ stated, ...values }) {
  return Object.entries(values).map(([key, value]) => `${key}=${key === 'alkalinity' ? typed(value, stated) : typed(value)}`);
}

function waterOf(values, report) {
  if (values.water === 'rain') return { from: 'rain' };
  const said = hasReport(values) ? reported(report) : values.known === 'ec' && values.tap_ec ? [`EC=${values.tap_ec}`] : [];
  return values.water === 'both' ? { from: 'rain-and-tap', rain: values.rain, report: said } : { from: 'tap', report: said };
}

/** A refusal with the key of the field that it is about. */
function placed(problem, values, tools) {
  const [, of, name] = /^\[+(water|syringe|jug)\b.*?\b(step|capacity|alkalinity|pH|[A-Z][\w-]*):/.exec(problem.message) ?? [];
  const plain = { ...problem, file: null };
  if (of === 'jug') return { ...plain, key: `jug_${name}` };
  if (of === 'syringe') return { ...plain, key: name };
  if (of === 'water') return { ...plain, key: hasReport(values) ? name : 'tap_ec' };
  if (problem.key === 'syringe') return { ...plain, key: problem.read === tools.step ? 'step' : 'capacity' };
  if (problem.key === 'jugs') return { ...plain, key: problem.read === (tools.jug_step ?? '') ? 'jug_step' : 'jug_capacity' };
  return problem.key === 'water' ? { ...plain, key: 'rain' } : plain;
}

export async function first() {
  const kept = (await store.get('first')) ?? {};
  const keep = (more) => store.change('first', (before) => ({ ...before, ...more }));
  const report = form('first-report', REPORT);
  const tapReport = el('fieldset', {}, el('legend', {}, 'The report of the water supplier'), report.node);
  const asked = [...TANK, ...WATER];
  const main = form('first', asked, { changed: () => shown() });
  const shown = () => {
    const values = main.values();
    for (const { key, only } of asked) if (only) main.input(key).closest('.field').hidden = !only(values);
    tapReport.hidden = !hasReport(values);
  };
  const scales = checks('scales', 'Which steps do your scales show?', SCALES.map((step) => [step, step]), kept.scales ?? ['0.1 g'], (value) => keep({ scales: value }));
  const instruments = form('first-instruments', INSTRUMENTS);
  const shelf = await shelfQuestions(kept.shelf ?? [], (value) => keep({ shelf: value }));
  const forms = [main, report, instruments, ...shelf.forms];
  const rest = el('div', {});
  const button = el('button', { type: 'button', class: 'main', onclick: () => make() }, MAKE);
  // what was told of these answers: pressed again, they are taken as they are
  let told = NOTHING;
  let nitrogen = null;
  /** What was taken for a name, and whose nitrogen has no forms: told before it counts, in the words of the library. */
  const tell = async (answered) => {
    nitrogen = nitrogenForms(answered.doc.nitrogen_unsplit);
    const words = el('div', {});
    await show('new', words, answered);
    const node = el('section', { class: 'told', tabindex: '-1', 'aria-label': 'What was made of your answers' }, words, nitrogen.nodes);
    rest.replaceChildren(node);
    button.textContent = 'Take it so and weigh';
    node.focus();
  };
  const make = async () => {
    shelf.state(nitrogen?.read() ?? []);
    nitrogen = null;
    const [values, tools] = [main.values(), instruments.values()];
    const syringe = tools.step || tools.capacity ? { step: tools.step ?? '0.5 mL', capacity: tools.capacity ?? '60 mL' } : undefined;
    const jugs = tools.jug_step || tools.jug_capacity ? [{ step: tools.jug_step ?? '', capacity: tools.jug_capacity ?? '' }] : [];
    const request = { job: 'new', tank: values.tank ?? '', temperature: values.temperature, meter_scale: values.meter_scale, water: waterOf(values, report.values()), scales: scales.read(), syringe, jugs, ...shelf.read() };
    const answered = await ask(request, SHEET);
    rest.replaceChildren();
    button.textContent = MAKE;
    const problems = answered.ok ? [] : answered.doc.problems.map((problem) => placed(problem, values, tools));
    const left = forms.reduce((open, one) => one.refuse(open), problems);
    if (!answered.ok) {
      if (left.length) rest.replaceChildren(refused(left));
      forms.map((one) => one.node.querySelector('[aria-invalid]')).find(Boolean)?.focus();
      return;
    }
    const toTell = JSON.stringify([answered.doc.taken, answered.doc.nitrogen_unsplit]);
    if (toTell !== NOTHING && toTell !== told) {
      told = toTell;
      await tell(answered);
      return;
    }
    await replace(answered.doc.text, rest);
  };
  for (const one of forms) await one.restore();
  shown();
  return el('div', {}, el('h1', {}, 'My bench'), main.node, tapReport, scales.node, instruments.node, shelf.nodes,
    el('p', { class: 'hint' }, 'Formulas for growth and for the push into flower come along: common practice, no source. Everything can be changed later under Bench.'),
    rest, el('div', { class: 'actions' }, button));
}

/** Keeps the bench, in place of one that is there where that is wanted. */
async function replace(text, place) {
  const before = await store.bench();
  if (before && before !== text) {
    const words = el('p', {}, 'There is a bench file already. Replace it by a new one? The old one stays under "Keep and take back", as bench-before.toml.');
    if (!(await askBack(place, words, { no: 'No, keep the old one', yes: 'Yes, replace it' }))) return;
    await store.put('bench-before', before);
  }
  await store.put('bench', text);
  location.hash = '#mix';
}
