// A job as a screen: its form, its answer, and what can be done with that. Computed anew after every change.

import { el, save, day } from '../dom.js';
import { ask, stop, SHEET, TEXT, PLAN } from '../engine.js';
import { form } from '../fields.js';
import { extend, refused, show } from '../result.js';
import { tell, teller } from '../asking.js';
import * as bench from '../bench.js';
import * as store from '../store.js';
import { done, keepEntry, otherwise } from '../logbook.js';

const PAUSE_MS = 40;
/** Pictures are reckoned once nothing was changed for so long. */
const FIGURES_MS = 700;

/**
 * * `job`: `{ id, title, intro, fields(), request(values, context), plan, recipe }`
 * * `weighing(left, all)`: hears how many boxes are not yet ticked
 */
export async function jobScreen(job, { weighing }) {
  const context = { bench: await bench.text(), tank: await bench.tank(), tanks: await bench.tanks(), formulas: await bench.formulas(), recipes: (await store.get('recipes')) ?? [] };
  const result = el('section', { class: 'result', 'aria-live': 'polite', 'aria-label': 'Answer' });
  const actions = el('div', { class: 'actions' });
  const state = el('p', { class: 'state', role: 'status' });
  const question = el('div', {});
  const said = teller();
  let latest = 0;
  let running = false;
  let again = null;
  let figures;

  async function compute(values) {
    if (running) {
      again = values;
      return;
    }
    running = true;
    try {
      await once(values);
    } finally {
      running = false;
    }
    if (again !== null) {
      const next = again;
      again = null;
      await compute(next);
    }
  }

  async function once(values) {
    const mine = ++latest;
    const slow = setTimeout(() => state.replaceChildren('Reckoning… ', el('button', { type: 'button', onclick: () => { again = null; stop(); } }, 'Stop')), 400);
    const request = await job.request(values, context);
    if (request) {
      clearTimeout(figures);
      const answered = await ask({ ...request, also: request.also?.filter((one) => one !== 'figures') }, SHEET | TEXT | (job.plan ? PLAN : 0));
      clearTimeout(slow);
      state.replaceChildren();
      if (again === null && mine === latest) await present(answered, request);
      if (answered.ok && request.also?.includes('figures')) figures = setTimeout(() => picture(request, mine), FIGURES_MS);
    } else {
      clearTimeout(slow);
      asked.clear();
      result.replaceChildren(job.waiting ? el('p', { class: 'hint' }, job.waiting) : '');
      actions.replaceChildren();
      said.replaceChildren();
    }
  }

  async function picture(request, mine) {
    const answered = await ask(request, SHEET);
    if (answered.ok && mine === latest) extend(result, answered.sheet);
  }

  async function present(answered, request) {
    asked.clear();
    const problems = answered.ok ? [] : asked.refuse(answered.doc.problems);
    await show(job.id, result, answered, { problems, weighing });
    actions.replaceChildren(...(answered.ok ? offered(answered, request) : []));
    said.replaceChildren();
    question.replaceChildren();
    result.dataset.done = String(Number(result.dataset.done ?? 0) + 1);
  }

  function offered(answered, request) {
    const { doc } = answered;
    const all = [];
    if (doc.recipe && job.keep) {
      const other = otherwise(job.id);
      all.push(el('button', { type: 'button', class: 'main', onclick: () => enter(doc, request, other.weighed()) }, job.keep), other.node);
    }
    if (doc.recipe) all.push(el('button', { type: 'button', onclick: () => keepRecipe(doc) }, 'Keep the recipe'));
    const made = doc.helpers?.filter((bottle) => bottle.new) ?? [];
    if (made.length) all.push(bottles(made));
    if (answered.calendar) all.push(el('button', { type: 'button', onclick: () => save(`plan-${day()}.ics`, answered.calendar, 'text/calendar') }, 'Calendar file'));
    if (answered.table) all.push(el('button', { type: 'button', onclick: () => save(`plan-${day()}.csv`, answered.table, 'text/csv') }, 'Table'));
    all.push(el('button', { type: 'button', onclick: () => window.print() }, 'Print'));
    return all;
  }

  /** Once they are made, new bottles are entered in the bench, and mixes draw from them. */
  function bottles(made) {
    const enters = async () => {
      if (button.ariaDisabled) return;
      const told = await bench.enterBottles(made, context.bench);
      if (!told.ok) {
        question.replaceChildren(refused(told.problems));
        return;
      }
      context.bench = told.text;
      question.replaceChildren();
      tell(said, el('strong', { class: 'kept' }, `${made.length === 1 ? made[0].id : `${made.length} bottles`}: on the bench now, as made and counted today. `), el('a', { href: '#bench/part/helper' }, 'See the bottles'));
      button.setAttribute('aria-disabled', 'true'); // it keeps the focus
    };
    const button = el('button', { type: 'button', onclick: enters }, made.length === 1 ? 'The bottle is made: enter it' : `The ${made.length} bottles are made: enter them`);
    return button;
  }

  async function keepRecipe(doc) {
    const name = `${doc.formula ?? 'mix'} ${doc.volume_l ?? ''} L, ${day()}`.replace('  ', ' ');
    const text = JSON.stringify(doc.recipe, null, 2) + '\n';
    await store.change('recipes', (kept = []) => [...kept.filter((recipe) => recipe.name !== name), { name, text }]);
    tell(said, `Kept as "${name}": Scale, Check and Turn over can take it.`);
  }

  async function enter(doc, request, weighed) {
    const told = await keepEntry(context.tank, done(doc.recipe, weighed), question, request.bench);
    if (told.changed) return;
    if (!told.ok) {
      question.replaceChildren(refused(told.answered.doc.problems));
      return;
    }
    await store.put(`ticks:${job.id}`, null);
    question.replaceChildren();
    tell(said, el('strong', { class: 'kept' }, `Kept as entry ${told.entry} of the logbook. `), el('a', { href: '#logbook' }, 'See the logbook'));
  }

  let timer;
  const fields = await job.fields(context);
  const asked = form(job.id, fields, { changed: (values) => { clearTimeout(timer); timer = setTimeout(() => compute(values), PAUSE_MS); } });
  await asked.restore();
  compute(asked.values());
  return el('div', {}, el('h1', {}, job.title), job.intro && el('p', { class: 'intro' }, job.intro), asked.node, state, result, question, actions, said);
}
