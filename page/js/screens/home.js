// The first screen: what to do now, from the logbook and the plan; on a new device, the way to a bench of one's own.

import { el, moment } from '../dom.js';
import { ask, SHEET, TEXT } from '../engine.js';
import { answer } from '../fields.js';
import { refused, show } from '../result.js';
import { tell, teller } from '../asking.js';
import * as bench from '../bench.js';
import * as store from '../store.js';
import { done, keepEntry, otherwise } from '../logbook.js';

const card = (href, title, words) => el('a', { class: 'card', href }, el('strong', {}, title), el('span', {}, words));

export async function home({ weighing }) {
  const text = await bench.text();
  const read = async () => (await store.logbooks()).map((book) => book.text).filter(Boolean);
  const place = el('section', { class: 'result', 'aria-label': 'What to do now' });
  const actions = el('div', { class: 'actions' });
  const state = teller();
  const question = el('div', {});
  if (!text && !(await read()).length) return welcome();
  const begin = (await store.get('plan')) ?? {};
  const refresh = async () => {
    const books = await read();
    const today = (plan) => ask({ job: 'today', bench: text, now: moment(), logbooks: books.length ? books : [''], ...plan, also: ['recipe', 'figures'] }, SHEET | TEXT);
    let answered = await today(begin);
    // a first day that was once typed says nothing where the bench has no plan
    if (!answered.ok && answered.doc.problems.some((problem) => problem.code === 'no-cycle')) answered = await today({});
    await show('today', place, answered, { weighing });
    actions.replaceChildren(...(answered.ok ? answered.doc.tanks.flatMap((tank) => due(tank, { state, question, refresh })) : []));
    return answered;
  };
  const { sheet } = await refresh();
  return el('div', {}, sheet ? null : el('h1', {}, 'What to do now'), place, question, actions, state, el('nav', { class: 'cards', 'aria-label': 'Jobs' }, jobs()));
}

/** A way to a job, which has the formula that is due chosen. */
function leads(job, formula, words) {
  const chosen = async (event) => {
    event.preventDefault();
    if (formula) await answer(job, { formula });
    location.hash = `#${job}`;
  };
  return el('a', { class: 'button', href: `#${job}`, onclick: chosen }, words);
}

/** Buttons for what is due of a tank; `refresh` asks for the day anew once something was entered. */
function due(tank, { state, question, refresh }) {
  const all = [];
  const of = tank.tank ? ` (${tank.tank})` : '';
  for (const one of tank.due) {
    if (one.what === 'read') all.push(el('a', { class: 'button', href: '#read' }, `Read the meter${of}`));
    if (one.what === 'switch') all.push(leads('switch', one.formula, `Turn over to ${one.formula ?? 'another formula'}${of}`));
    if (one.what === 'fill' || one.what === 'renew') all.push(leads('mix', one.formula, `Mix ${one.formula ?? 'a fresh tank'}${of}`));
  }
  const recipe = tank.recipe;
  if (recipe) {
    const other = otherwise(`today-${tank.tank ?? ''}`);
    const enter = async () => {
      const told = await keepEntry(tank.tank, done(recipe, other.weighed()), question);
      if (told.ok) {
        await store.put('ticks:today', null);
        question.replaceChildren();
        await refresh();
        tell(state, el('strong', { class: 'kept' }, `Kept as entry ${told.entry} of the logbook; this is the day with it. `), el('a', { href: '#logbook' }, 'See the logbook'));
      } else if (!told.changed) question.replaceChildren(refused(told.answered.doc.problems));
    };
    all.push(el('button', { type: 'button', class: 'main', onclick: enter }, `Poured: enter it${of}`), other.node);
  }
  return all;
}

function jobs() {
  return [
    card('#mix', 'Mix', 'what to weigh for a fresh tank'),
    card('#read', 'Read the meter', 'what EC and pH mean, and what to add'),
    card('#top-up', 'Top up', 'what to pour into a tank that stays'),
    card('#switch', 'Turn over', 'from what the tank holds to another formula'),
    card('#logbook', 'Logbook', 'what happened, and what is in the tank now'),
    card('#plan', 'Plan', 'dates, pollen and shopping'),
  ];
}

function welcome() {
  return el('div', { class: 'welcome' },
    el('h1', {}, 'What should be in the tank?'),
    el('p', { class: 'intro' }, 'Bloomsalt turns what your plants should get into what you weigh, with the salts, the water and the scale that you have. Everything is reckoned on this device; nothing is sent anywhere.'),
    el('nav', { class: 'cards', 'aria-label': 'Begin' },
      card('#first', 'Set up my bench', 'tank, water, scale and salts, in a few questions'),
      card('#mix', 'Look around first', 'with a starter bench of Streptocarpus and rain water'),
      card('#keep', 'Take back a copy', 'files that were saved before')));
}

const GROUPS = [
  ['At the tank', [['#mix', 'Mix', 'a fresh tank'], ['#read', 'Read the meter', 'EC and pH'], ['#top-up', 'Top up', 'without letting out'], ['#switch', 'Turn over', 'to another formula'], ['#check', 'Check', 'a mix already made'], ['#forecast', 'What is to come', 'by the logbook']]],
  ['On the shelf', [['#scale', 'Another tank', 'a recipe for another size'], ['#stock', 'Stock bottles', 'concentrates'], ['#salts', 'Salts', 'search, hazards'], ['#trade', 'One against another', 'what the shelf allows']]],
  ['The bench', [['#plan', 'Plan', 'dates and pollen'], ['#logbook', 'Logbook', 'what happened'], ['#bench', 'Bench', 'tank, water, shelf, formulas'], ['#first', 'First questions', 'a new bench file'], ['#keep', 'Keep and take back', 'copies of everything']]],
];

export function more() {
  return el('div', {}, el('h1', {}, 'All jobs'),
    GROUPS.map(([name, all]) => el('section', {}, el('h2', {}, name), el('nav', { class: 'cards', 'aria-label': name }, all.map(([href, title, words]) => card(href, title, words))))));
}
