// The jobs: the questions that each asks, and the request that it makes of them.

import { moment } from '../dom.js';
import * as store from '../store.js';

const volume = (key, label, more = {}) => ({ key, label, unit: 'L', ...more });
const formulaField = (context, more = {}) => ({ key: 'formula', label: 'Formula', kind: 'choice', options: context.formulas, ...more });
const none = (options, words = 'none') => [['', words], ...options];

/** The tank of a request: what is typed, else the one that is chosen among several. */
const tankOf = (values, context) => values.tank ?? (context.tanks.length > 1 ? context.tank : undefined);

const recipeText = (context, name) => context.recipes.find((recipe) => recipe.name === name)?.text;
const recipeNames = (context) => context.recipes.map((recipe) => recipe.name).reverse();

export const mix = {
  id: 'mix',
  title: 'Mix a fresh tank',
  keep: 'It is in the tank: enter it',
  fields: (context) => [
    formulaField(context, { value: context.formulas.includes('growth') ? 'growth' : undefined }),
    volume('tank', 'Tank', { placeholder: 'as on the bench', hint: 'In litres, or with its unit: 15.9 gal.' }),
    { key: 'beside', label: 'Compare with', kind: 'choice', options: none(context.formulas), more: true },
    { key: 'prefer', label: 'Where several come equally close, prefer', kind: 'choice', options: [['', 'the order of the shelf'], ['cheap', 'the least cost'], ['few', 'the fewest salts'], ['light', 'the least weight']], more: true },
    { key: 'salts_at_most', label: 'Salts at most', more: true },
    { key: 'meter_scale', label: 'Meter shows dissolved solids', kind: 'choice', options: [['', 'no'], ['0.5', 'factor 0.5'], ['0.64', 'factor 0.64'], ['0.7', 'factor 0.7']], more: true },
  ],
  request: (values, context) => {
    const asked = { ...values, bench: context.bench, tank: tankOf(values, context) };
    if (asked.salts_at_most !== undefined) asked.salts_at_most = Number(asked.salts_at_most);
    return asked.beside ? { job: 'mix-beside', ...asked } : { job: 'mix', ...asked, also: ['figures', 'recipe'] };
  },
};

export const turn = {
  id: 'switch',
  title: 'Turn the tank over',
  keep: 'It is done: enter it',
  intro: 'From what the tank holds to another formula: how much to let out, fill up and weigh in.',
  fields: (context) => [
    formulaField(context, { label: 'Turn over to', value: context.formulas.includes('push') ? 'push' : undefined }),
    { key: 'holds', label: 'The tank holds', kind: 'choice', options: [['logbook', 'what the logbook says'], ...context.formulas.map((name) => [`formula:${name}`, `${name}, freshly mixed`]), ...recipeNames(context).map((name) => [`recipe:${name}`, `recipe ${name}`])] },
    volume('level', 'Level now', { placeholder: 'full' }),
    volume('bucket', 'Let out in buckets of', { more: true }),
    volume('drain', 'Let out just', { more: true }),
    volume('held_back', 'Stays behind in medium and pipes', { more: true }),
    { key: 'holding_ph', label: 'pH in the tank', more: true },
    { key: 'ec_step', label: 'Warn when EC changes by more than', unit: 'mS/cm', more: true },
    { key: 'steps', label: 'In steps over days', kind: 'choice', options: [['', 'at once'], ['2', '2 steps'], ['3', '3 steps'], ['4', '4 steps']], more: true },
    { key: 'every_days', label: 'Days from step to step', placeholder: '2', more: true },
    { key: 'on', label: 'On the day', kind: 'date', more: true },
    volume('tank', 'Full tank', { placeholder: 'as on the bench', more: true }),
  ],
  request: async ({ holds, ...values }, context) => {
    for (const key of ['steps', 'every_days']) if (values[key] !== undefined) values[key] = Number(values[key]);
    const asked = { job: 'switch', ...values, bench: context.bench, tank: tankOf(values, context), also: ['figures', 'recipe'] };
    const [kind, name] = [holds.split(':')[0], holds.slice(holds.indexOf(':') + 1)];
    if (kind === 'formula') return { ...asked, holding: name };
    if (kind === 'recipe') return { ...asked, recipe: recipeText(context, name) };
    return { ...asked, logbook: await store.logbook(context.tank), now: moment() };
  },
};

export const topUp = {
  id: 'top-up',
  title: 'Top up',
  keep: 'It is in the tank: enter it',
  intro: 'What to pour into a tank that is not let out, so that it keeps its formula.',
  fields: (context) => [
    { key: 'formula', label: 'Formula', kind: 'choice', options: none(context.formulas, 'the one that it is fed') },
    volume('volume', 'How much is mixed', { placeholder: 'what a week loses' }),
  ],
  request: async (values, context) => ({ job: 'top-up', ...values, bench: context.bench, logbook: await store.logbook(context.tank), now: moment(), also: ['figures', 'recipe'] }),
};

export const check = {
  id: 'check',
  title: 'Check a mix',
  intro: 'What a mix already made contains, or what a meter reading says about it.',
  waiting: 'Say what went in, a saved recipe or an analysis.',
  fields: (context) => [
    { key: 'added', label: 'What went in, one a line', kind: 'lines', list: true, placeholder: 'epsom=13.4g', hint: 'A salt by its id or name, and how much: potassium-nitrate=14.1g' },
    { key: 'water', label: 'in which water, where your bench has several, one a line', kind: 'lines', list: true, rows: '2', hint: 'rain=40L; one alone needs no volume', more: true },
    { key: 'recipe', label: 'or a kept recipe', kind: 'choice', options: none(recipeNames(context)) },
    { key: 'analysis', label: 'or an analysis of the solution, one a line', kind: 'lines', list: true, rows: '3', hint: 'Elements in ppm: N=88', more: true },
    volume('tank', 'Tank', { placeholder: 'as on the bench' }),
    { key: 'against', label: 'Held against', kind: 'choice', options: none(context.formulas) },
    { key: 'reads', label: 'The EC meter reads', unit: 'mS/cm' },
    { key: 'read_at', label: 'at a temperature of, where the meter does not correct', unit: 'C', more: true },
    { key: 'meter_error', label: 'Meter may be off by (a fraction)', more: true },
  ],
  request: (values, context) => {
    if (!values.added && !values.recipe && !values.analysis) return null;
    const { recipe, ...rest } = values;
    return { job: 'check', ...rest, recipe: recipe && recipeText(context, recipe), bench: context.bench, tank: tankOf(values, context), also: recipe || values.added ? ['figures', 'recipe'] : ['figures'] };
  },
};

export const scale = {
  id: 'scale',
  title: 'A recipe for another tank',
  waiting: 'Choose a kept recipe, or paste one, and say how large the other tank is. Mix has "Keep the recipe".',
  fields: (context) => [
    { key: 'kept', label: 'Kept recipe', kind: 'choice', options: none(recipeNames(context)) },
    volume('to', 'To'),
    { key: 'text', label: 'or the text of a recipe file', kind: 'lines', more: true },
  ],
  request: ({ kept, text, to }, context) => {
    const recipe = text ?? recipeText(context, kept);
    return recipe && to ? { job: 'scale', recipe, to, also: ['figures', 'recipe'] } : null;
  },
};

export const stock = {
  id: 'stock',
  title: 'Stock bottles',
  intro: 'Concentrated bottles and the dose for a litre of tank.',
  fields: (context) => [
    formulaField(context),
    { key: 'strength', label: 'Times as strong as the tank', placeholder: '100' },
    volume('bottle', 'Each bottle', { placeholder: '1' }),
    { key: 'coldest', label: 'Coldest place where they stand', unit: 'C', placeholder: '10' },
    { key: 'dose_for', label: 'Dose another formula from them', kind: 'choice', options: none(context.formulas), more: true },
    volume('tank', 'Tank', { placeholder: 'as on the bench', more: true }),
  ],
  request: (values, context) => ({ job: 'stock', ...values, bench: context.bench, tank: tankOf(values, context), also: ['figures'] }),
};

export const plan = {
  id: 'plan',
  title: 'The plan',
  plan: true,
  intro: 'Dates and amounts from growth to ripe seed, whose pollen to collect when, and what to buy.',
  waiting: 'Say when it starts, or when the first flower should open. How long each phase lasts stands in the bench, under [cycle]: put it in there first.',
  fields: () => [
    { key: 'start', label: 'First day', kind: 'date' },
    { key: 'first_open', label: 'or the week in which the first flower should open', kind: 'date' },
    { key: 'starts', label: 'Groups start', kind: 'choice', options: [['', 'as the bench file says'], ['best', 'as is best for all together']], more: true },
    volume('tank', 'Tank', { placeholder: 'as on the bench', more: true }),
  ],
  request: async ({ starts, ...values }, context) => {
    const books = (await store.logbooks()).map((book) => book.text).filter(Boolean);
    const asked = { job: 'cycle', ...values, best_start: starts === 'best', bench: context.bench, tank: tankOf(values, context), also: ['figures'] };
    await store.put('plan', { start: values.start, first_open: values.first_open });
    // before anything is said, a bench without a plan is no mistake
    if (!values.start && !values.first_open && !/^\s*\[cycle\]/m.test(context.bench ?? '')) return null;
    return books.length ? { ...asked, logbooks: books, now: moment() } : asked;
  },
};

export const trade = {
  id: 'trade',
  title: 'What of one can be had against another',
  fields: (context) => [
    formulaField(context),
    { key: 'along', label: 'When this is changed', kind: 'text', value: 'N' },
    { key: 'reached', label: 'how much of this is reached', kind: 'text', value: 'Ca' },
  ],
  request: (values, context) => (values.along && values.reached ? { job: 'trade', ...values, bench: context.bench } : null),
};

export const forecast = {
  id: 'forecast',
  title: 'What is to come',
  intro: 'When nitrogen runs low or EC leaves its range, by the logbook.',
  fields: (context) => [
    { key: 'formula', label: 'Formula', kind: 'choice', options: none(context.formulas, 'the one that it is fed') },
    { key: 'floor', label: 'Nitrogen not under (ppm)', placeholder: 'half of the target' },
  ],
  request: async (values, context) => ({ job: 'logbook-forecast', ...values, bench: context.bench, logbook: await store.logbook(context.tank), now: moment() }),
};

export const all = { mix, switch: turn, 'top-up': topUp, check, scale, stock, plan, trade, forecast };
