// Requests of every job, a hundred and more of each, always the same ones: on the starter, on the benches of the examples and of
// tests/cases, and on those of tests/mistakes, which are refused.

import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

const read = (root, folder) => readdirSync(join(root, folder)).filter((file) => file.endsWith('.toml')).sort().map((file) => readFileSync(join(root, folder, file), 'utf8'));

/** A sequence of numbers under a bound, the same on every run. */
function numbers(seed) {
  let state = seed;
  return (below) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
}

const NOW = '2026-11-26T18:30:00+01:00';
const SALTS = ['potassium-nitrate', 'monopotassium-phosphate', 'magnesium-sulfate-heptahydrate', 'calcium-nitrate-tetrahydrate', 'potassium-sulfate', 'iron-dtpa'];
const FORMULAS = ['growth', 'push', 'lean', 'weak'];

/** `native(requests)` answers by the program of this machine: logbooks and recipes come from there. */
export async function requests(root, native, each = 100) {
  const sound = [undefined, ...read(root, 'tests/cases')];
  const wrong = read(root, 'tests/mistakes');
  const planned = readdirSync(join(root, 'examples')).filter((file) => file.endsWith('.toml')).map((file) => readFileSync(join(root, 'examples', file), 'utf8')).filter((text) => /^\[cycle\]/m.test(text));
  const next = numbers(20261126);
  const any = (list) => list[next(list.length)];
  const bench = () => (next(5) === 0 ? any(wrong) : next(3) === 0 ? any(sound) : undefined);
  const litres = () => `${any([5, 12.5, 20, 40, 60, 100, 250]) + next(10)} L`;
  const doses = () => Array.from({ length: 1 + next(4) }, () => `${any(SALTS)}=${(1 + next(300) / 10).toFixed(1)}${any(['g', 'g', 'oz', ' grams'])}`);
  const recipes = (await native(FORMULAS.flatMap((formula) => ['20 L', '60 L'].map((tank) => ({ job: 'mix', formula, tank, also: ['recipe'] }))))).map((line) => JSON.stringify(JSON.parse(line).recipe));
  const books = await logbooks(native, recipes);
  const logbook = () => any(books);
  const also = () => (next(3) === 0 ? ['figures'] : []);
  const kinds = {
    mix: () => ({ job: 'mix', formula: any([...FORMULAS, 'psh']), tank: litres(), bench: bench(), prefer: any([undefined, 'cheap', 'few', 'light']), also: also() }),
    'mix-beside': () => ({ job: 'mix-beside', formula: any(FORMULAS), beside: any(FORMULAS), tank: litres() }),
    trade: () => ({ job: 'trade', formula: any(FORMULAS), along: any(['N', 'K', 'P']), reached: any(['Ca', 'Mg', 'Cl']) }),
    check: () => ({ job: 'check', added: doses(), tank: litres(), against: any([undefined, ...FORMULAS]), reads: any([undefined, '1.2 mS/cm', '9 mS/cm', '1,2 mS/cm']) }),
    switch: () => ({ job: 'switch', formula: any(FORMULAS), ...any([{ holding: any(FORMULAS) }, { recipe: any(recipes) }, { logbook: logbook(), now: NOW }, { analysis: ['N=88', 'K=90'] }]), bucket: any([undefined, '10 L']) }),
    scale: () => ({ job: 'scale', recipe: any([...recipes, '{}']), to: any([litres(), '0 L', '15 gal']) }),
    stock: () => ({ job: 'stock', formula: any(FORMULAS), strength: any([undefined, '50', '200', '5']), bottle: any([undefined, '500 mL', '2 L']), coldest: any([undefined, '5 C']) }),
    cycle: () => ({ job: 'cycle', bench: any([...planned, undefined]), ...any([{ start: '2027-01-04' }, { first_open: '2027-W20' }, { start: '2027-02-30' }]), tank: any([undefined, '40 L']) }),
    'logbook-add': () => ({ job: 'logbook-add', logbook: logbook(), now: NOW, entry: any([{ event: 'reading', ec: `${next(30) / 10} mS/cm`, ph: '5.9' }, { event: 'note', text: 'öffnet 花' }, { event: 'drained', volume: litres() }, { event: 'void', entry: 1 + next(9) }, { event: 'topped-up', volume: '8 L' }, { event: 'added', added: doses() }]), confirmed: any([undefined, undefined, true]) }),
    'logbook-merge': () => ({ job: 'logbook-merge', logbook: logbook(), other: logbook() + any(['', '', '{"torn']) }),
    'bench-read': () => ({ job: 'bench-read', bench: bench() }),
    'bench-edit': () => ({ job: 'bench-edit', bench: bench(), edits: any([[{ key: ['tank', 'volume'], value: any([litres(), 'sixty']) }], [{ key: ['formula', any(FORMULAS), 'K'], value: next(200) }, { key: ['name'], value: 'öffnet 花' }], [{ key: ['scale', 0, 'trust'] }], [{ key: ['shelf', any(SALTS)], value: { on_hand: '1 kg' } }], [{ key: ['shelf', 'no-such-salt'] }]]) }),
    'logbook-show': () => ({ job: 'logbook-show', logbook: logbook() + any(['', '{"torn', 'x\n']) }),
    'logbook-now': () => ({ job: 'logbook-now', logbook: logbook(), now: any([NOW, '2026-12-24 08:00+01:00', '2026-12-24']) }),
    'logbook-forecast': () => ({ job: 'logbook-forecast', logbook: logbook(), now: NOW, formula: any([undefined, ...FORMULAS]), floor: any([undefined, '30', '30 ppm']) }),
    today: () => ({ job: 'today', logbooks: [logbook()], now: NOW, bench: any([undefined, ...planned]), ...any([{}, { start: '2026-11-01' }]) }),
    'top-up': () => ({ job: 'top-up', logbook: logbook(), now: NOW, formula: any([undefined, ...FORMULAS]), volume: any([undefined, '6 L']) }),
    new: () => ({ job: 'new', tank: any([litres(), 'sixty']), water: any([{ from: 'rain' }, { from: 'tap' }, { from: 'tap', report: ['Ca=90', `alkalinity=${100 + next(200)} mg/L CaCO3`] }]), scales: any([['0.1 g'], ['1 g', '0.01 g'], []]), shelf: SALTS.slice(next(4)) }),
    salts: () => ({ job: 'salts', words: any([undefined, ...SALTS, 'epsom', 'MKP', 'CuSO4·5H2O', 'nitrate', 'no-such-salt']), bench: bench() }),
  };
  return Object.fromEntries(Object.entries(kinds).map(([job, make]) => [job, Array.from({ length: each }, make)]));
}

/** Logbooks of some weeks, each entry appended as the program says. */
async function logbooks(native, recipes) {
  const books = ['', 'no logbook\n'];
  let text = '';
  const entries = [{ event: 'filled', recipe: recipes[1] }, { event: 'reading', ec: '1.3 mS/cm', ph: '5.9', level: '60 L' }, { event: 'reading', ec: '1.2 mS/cm', level: '54 L' }, { event: 'topped-up', volume: '6 L' }, { event: 'note', text: 'leaves pale' }, { event: 'void', entry: 4 }, { event: 'reading', ec: '1.1 mS/cm', ph: '6.2', level: '50 L' }];
  for (const [number, entry] of entries.entries()) {
    const [line] = await native([{ job: 'logbook-add', logbook: text, now: `2026-11-${String(10 + number * 2)}T09:00:00+01:00`, entry, confirmed: true }]);
    const { append } = JSON.parse(line);
    if (append) books.push((text += append));
  }
  return books;
}
