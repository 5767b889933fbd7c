// The bench as forms, and the library stopped or failing.

import { readFileSync } from 'node:fs';
import { strict as assert } from 'node:assert';
import { keys } from '../keys.mjs';
import { kept, opens, shown } from './steps.mjs';

/** A module whose every answer is a trap: `memory`, `room` gives 0, `answer` is unreachable. */
const TRAP = Buffer.from('0061736d01000000010c0260017f017f60027f7f017f030302000105030100010' + '71a03066d656d6f7279020004726f6f6d000006616e737765720001' + '0a0a0204004100' + '0b0300000b', 'hex');

export function forms(kit) {
  const { context, host, told, PHONE, DESK, native } = kit;
  const go = opens(host);
  const part = async (page, name) => {
    await page.goto('about:blank');
    await go(page, `bench/part/${name}`);
  };
  const open = (page, words) => page.locator('details > summary', { hasText: words }).first().click();
  /** Fills what is shown under labels, within the entry of a name. */
  const fill = async (place, values) => {
    for (const [label, value] of Object.entries(values)) {
      const field = place.getByLabel(label, { exact: true });
      if (await field.evaluate((node) => node.localName === 'select')) await field.selectOption(value);
      else await field.fill(value);
    }
  };
  const entry = (page, words) => page.locator('#screen details', { has: page.locator(':scope > summary', { hasText: words }) }).filter({ has: page.locator('form') }).first();
  const add = async (page, name, values) => {
    await part(page, name);
    const place = page.locator('#screen details', { has: page.locator(':scope > summary', { hasText: /^Add/ }) });
    if (!(await place.evaluate((node) => node.open))) await place.locator(':scope > summary').click();
    await fill(place, values);
    await place.getByRole('button', { name: 'Add', exact: true }).click();
    await page.getByText('Added.').waitFor();
  };

  return {
    async 'forms: every part of the bench is set once, and the terminal reads it to the same answer'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'bench/text');
      const starter = await page.getByLabel('Text of the file').inputValue();
      await part(page, '');
      await fill(page, { Name: 'Streptocarpus, by hand', Bottles: '0,25 L, 1 L' });
      await page.getByRole('button', { name: 'Keep', exact: true }).tap();
      await page.getByText('Kept.').waitFor();
      await part(page, 'tank');
      await fill(page.locator('#screen form').first(), { Volume: '45', 'Plus minus': '', Temperature: '70 F' });
      await page.getByRole('button', { name: 'Keep', exact: true }).tap();
      await page.getByText('Kept.').waitFor();
      assert.ok((await kept(page, 'bench')).includes('volume = "45 L"                  # final volume'), 'the comment stays');
      await add(page, 'tank', { 'The one that is here': 'large', Id: 'small bench', Volume: '20' });
      await add(page, 'water', { 'Ca, calcium': '72', Alkalinity: '180', pH: '7,5' });
      await add(page, 'water', { 'The one that is here': 'tap', Id: 'rain', 'On hand': '30' });
      await add(page, 'scale', { Readability: '1', Trust: '0,05', Capacity: '2 kg' });
      await part(page, 'syringe');
      await fill(page, { Step: '0.2', Capacity: '20' });
      await page.getByRole('button', { name: 'Keep', exact: true }).tap();
      await page.getByText('Kept.').waitFor();
      await add(page, 'shelf', { Salt: 'magnesium-nitrate-hexahydrate', 'On hand': '1,5', 'Price per kg': '4', Purity: '0.98', Bag: '1', 'Counted on': '2026-11-20' });
      await add(page, 'product', { Id: 'own-pk', Density: '1.09', Analysis: 'P2O5 = 6,5\nK2O=4.3', 'Alkalinity per kg': '0' });
      await add(page, 'helper', { Id: 'traces', Volume: '1', 'Made of': 'boric-acid = 3.5 g', 'Made on': '2026-10-03', Left: '640', 'Made with': 'pure' });
      await add(page, 'acid', { Salt: 'phosphoric-acid-10, nitric-acid-60', 'Target pH': '5.8', Basis: 'aired' });
      await part(page, 'formula');
      await open(page, 'push');
      const push = entry(page, 'push');
      await push.locator('summary', { hasText: 'Ca, calcium' }).click();
      const calcium = push.locator('details', { has: page.locator('summary', { hasText: 'Ca, calcium' }) });
      await fill(calcium, { Times: '', Target: '60', Min: '40', Max: '70', Weight: '2' });
      await push.getByRole('button', { name: 'Keep', exact: true }).tap();
      await page.getByText('Kept.').waitFor();
      await part(page, 'formula');
      await open(page, 'Add another');
      const more = entry(page, /^Add/);
      await fill(more, { Name: 'gentle', From: 'growth', Strength: '0,5', 'Hold at most': '21' });
      await more.locator('summary', { hasText: /^EC/ }).click();
      await fill(more.locator('details', { has: page.locator('summary', { hasText: /^EC/ }) }), { Max: '1,3' });
      await more.getByRole('button', { name: 'Add', exact: true }).tap();
      await page.getByText('Added.').waitFor();
      await part(page, 'cycle');
      for (const [phase, formula, days] of [['Growth', 'growth', '42'], ['Push', 'push', '3 weeks']]) {
        const words = page.locator('summary', { hasText: new RegExp(`^${phase}: `) });
        await words.tap();
        await fill(page.locator('form details', { has: words }), { Formula: formula, Lasts: days });
      }
      await page.locator('form').getByLabel('Renew every').first().fill('14');
      await fill(page, { 'Renew on': 'Wed, Sat', Start: '2027-01-04' });
      await page.getByRole('button', { name: 'Add', exact: true }).tap();
      await page.getByText('Added.').waitFor();
      await add(page, 'group', { Id: 'early', Name: 'early blues', Tank: '40', 'Starts after': '-3', 'Days to flower': '44', 'Pollen from': '0', 'Pollen to': '3', 'Stigma from': '4', 'Stigma to': '9' });
      const bench = await kept(page, 'bench');
      const [line] = await native([{ job: 'bench-read', bench }]);
      const { written, tanks, formulas } = JSON.parse(line);
      assert.equal(written.name, 'Streptocarpus, by hand');
      assert.deepEqual(written.bottles, ['0.25 L', '1 L']);
      assert.deepEqual(written.tank, [{ id: 'large', volume: '45 L', temperature: '70 F' }, { id: 'small bench', volume: '20 L' }]);
      assert.deepEqual(tanks.map((tank) => tank.volume_l), [45, 20]);
      assert.deepEqual(written.water, [{ id: 'tap', Ca: 72, alkalinity: '180 mg/L CaCO3', pH: 7.5 }, { id: 'rain', on_hand: '30 L' }]);
      assert.deepEqual(written.scale.at(-1), { readability: '1 g', trust: 0.05, capacity: '2 kg' });
      assert.equal(written.syringe.step, '0.2 mL');
      assert.deepEqual(written.shelf['magnesium-nitrate-hexahydrate'], { on_hand: '1.5 kg', counted_on: '2026-11-20', price_per_kg: 4, purity: 0.98, bag: '1 kg' });
      assert.deepEqual(written.product, [{ id: 'own-pk', density: '1.09 kg/L', analysis: { P2O5: 6.5, K2O: 4.3 }, alkalinity_per_kg: '0 eq' }]);
      assert.deepEqual(written.helper, [{ id: 'traces', volume: '1 L', made_of: { 'boric-acid': '3.5 g' }, made_on: '2026-10-03', left: '640 mL', made_with: 'pure' }]);
      assert.deepEqual(written.acid, { salt: ['phosphoric-acid-10', 'nitric-acid-60'], target_pH: 5.8, basis: 'aired' });
      assert.deepEqual(written.formula.push.Ca, { target: 60, min: 40, max: 70, weight: 2 });
      assert.deepEqual(written.formula.gentle, { from: 'growth', strength: 0.5, EC: { max: '1.3 mS/cm' }, hold_at_most: '21 days' });
      assert.equal(formulas.find((formula) => formula.name === 'gentle').ec_max_ms_cm, 1.3);
      assert.deepEqual(written.cycle, { growth: { formula: 'growth', lasts: '42 days' }, push: { formula: 'push', lasts: '3 weeks' }, renew_every: '14 days', renew_on: ['Wed', 'Sat'], start: '2027-01-04' });
      assert.equal(written.group[0].starts_after, '-3 days');
      for (const comment of starter.match(/#.*/g).filter((words) => !/final volume|how well/.test(words))) assert.ok(bench.includes(comment), comment);
      const path = kit.write('forms.toml', bench);
      await go(page, 'mix');
      await page.getByLabel('Formula').selectOption('push');
      await page.waitForFunction(() => document.querySelector('.result .sheet')?.shadowRoot.querySelector('h1').textContent.includes('push'));
      const terminal = JSON.parse(kit.run('mix', 'push', '--bench', path, '--json'));
      const here = await shown(page).evaluate((node) => node.shadowRoot.textContent);
      for (const dose of terminal.doses.filter((one) => one.measure === 'scale')) assert.ok(here.includes(dose.name), dose.name);
      // and what was added is taken out again
      for (const [name, words] of [['group', 'early'], ['formula', 'gentle'], ['shelf', 'magnesium-nitrate-hexahydrate'], ['water', 'rain']]) {
        await part(page, name);
        await open(page, words);
        await page.getByRole('button', { name: `Take out ${words}` }).tap();
        assert.equal(await page.evaluate(() => document.activeElement.textContent), 'No, it stays');
        await page.getByRole('button', { name: 'Yes, take it out' }).tap();
        await page.getByText('Taken out.').waitFor();
      }
      await part(page, 'cycle');
      await page.getByRole('button', { name: 'Take out', exact: true }).tap();
      await page.getByRole('button', { name: 'Yes, take it out' }).tap();
      await page.getByText('Taken out.').waitFor();
      const after = JSON.parse((await native([{ job: 'bench-read', bench: await kept(page, 'bench') }]))[0]).written;
      assert.equal(after.cycle ?? after.group ?? after.formula.gentle ?? after.shelf['magnesium-nitrate-hexahydrate'], undefined);
      assert.equal(after.water.length, 1);
      await made.close();
    },

    async 'forms: every key that the library takes has a field'() {
      const made = await context(DESK);
      const page = await made.newPage();
      const phase = 'formula = "g"\nlasts = "9 days"\nzz = 1\n';
      const wrong = ['zz = 1', '[tank]\nzz = 1', '[[tank]]\nzz = 1', '[water]\nzz = 1', '[[water]]\nzz = 1', '[[scale]]\nzz = 1', '[syringe]\nzz = 1', '[shelf]\npotassium-nitrate = { zz = 1 }', '[[product]]\nzz = 1', '[[helper]]\nzz = 1', '[acid]\nzz = 1', '[formula.g]\nzz = 1', '[formula.g]\nEC = { zz = 1 }', '[formula.g]\nN = { zz = 1 }', '[cycle]\nzz = 1', `[cycle.push]\n${phase}`, '[[group]]\nzz = 1'];
      const lines = await native(wrong.map((bench) => ({ job: 'bench-read', bench })));
      const described = new Set();
      const parts = keys(readFileSync(`${kit.root}/docs/bench-file.md`, 'utf8'));
      const one = (rows) => rows.forEach((row) => { row.keys.forEach((key) => described.add(key)); if (row.inner) one(row.inner); });
      for (const { name, rows, more } of parts) {
        described.add(name);
        one([...rows, ...(more ?? [])]);
        await part(page, name);
        const names = await page.locator('#screen form :is(input, select, textarea)').evaluateAll((all) => all.map((node) => node.name));
        const wanted = rows.flatMap((row) => row.keys.flatMap((key) => (row.inner ? row.inner.flatMap((inner) => inner.keys.map((below) => `/${key}/${below}`)) : [`/${key}`])));
        assert.deepEqual(wanted.filter((key) => !names.includes(key)), [], `[${name}]`);
      }
      let compared = 0;
      lines.forEach((line, number) => {
        const problem = JSON.parse(line).problems.find((each) => / is not a key of .*; it takes /.test(each.message));
        assert.ok(problem, wrong[number]);
        for (const key of problem.message.split('; it takes ')[1].split(', ')) {
          compared += 1;
          assert.ok(described.has(key), `${wrong[number]}: ${key}`);
        }
      });
      told['keys of the bench file'] = `${compared} that the library names, all of them have a field`;
      await made.close();
    },

    async 'forms: a slip stands beside its field, what was typed stays through a reload, and an edit of another tab is not lost'() {
      const made = await context(DESK);
      const page = await made.newPage();
      await part(page, 'shelf');
      await open(page, 'potassium-nitrate');
      const salt = () => entry(page, /^potassium-nitrate/);
      await fill(salt(), { 'On hand': '2 foo', Purity: '4' });
      await page.keyboard.press('Enter');
      const said = (label) => salt().locator('.field', { has: page.getByLabel(label, { exact: true }) }).locator('.refused');
      await said('On hand').getByText('`foo` is not a unit for this').waitFor();
      assert.equal(await page.evaluate(() => document.activeElement.name), '/on_hand', 'what is wrong has the focus');
      assert.equal(await kept(page, 'bench'), undefined);
      await page.reload();
      await open(page, 'potassium-nitrate');
      assert.equal(await salt().getByLabel('Purity').inputValue(), '4');
      await fill(salt(), { 'On hand': '2', Purity: '0.99' });
      const other = await made.newPage();
      await part(other, 'shelf');
      await open(other, 'potassium-nitrate');
      const there = entry(other, /^potassium-nitrate/);
      await fill(there, { 'On hand': '', Purity: '', 'Price per kg': '7' });
      await there.getByRole('button', { name: 'Keep', exact: true }).click();
      await other.getByText('Kept.').waitFor();
      await salt().getByRole('button', { name: 'Keep', exact: true }).click();
      await page.getByText('The bench was changed meanwhile').waitFor();
      assert.deepEqual(await Promise.all(['On hand', 'Purity', 'Price per kg'].map((label) => salt().getByLabel(label, { exact: true }).inputValue())), ['2', '0.99', '7']);
      await salt().getByRole('button', { name: 'Keep', exact: true }).click();
      await page.getByText('Kept.').waitFor();
      const [line] = await native([{ job: 'bench-read', bench: await kept(page, 'bench') }]);
      assert.deepEqual(JSON.parse(line).written.shelf['potassium-nitrate'], { price_per_kg: 7, on_hand: '2 kg', purity: 0.99 });
      // text that was half typed before a form changed the bench does not overwrite that
      await go(page, 'bench/text');
      await page.getByLabel('Text of the file').press('End');
      await page.getByLabel('Text of the file').pressSequentially(' ');
      await part(other, 'tank');
      await fill(other.locator('#screen form').first(), { Volume: '50' });
      await other.getByRole('button', { name: 'Keep', exact: true }).click();
      await other.getByText('Kept.').waitFor();
      await page.reload();
      await page.getByRole('button', { name: 'Keep', exact: true }).click();
      await page.getByText('nothing was overwritten').waitFor();
      assert.match(await kept(page, 'bench'), /volume = "50 L"/);
      await made.close();
    },

    async 'what takes too long is stopped, and a library that breaks is started anew: what was typed stays, and the next answer comes'() {
      const made = await context({ ...DESK, serviceWorkers: 'block' });
      let broken = 0;
      await made.route('**/bloomsalt.wasm', (route) => (broken-- > 0 ? route.fulfill({ body: TRAP, contentType: 'application/wasm' }) : route.continue()));
      const page = await made.newPage();
      // a computation that never ends, however fast the machine is
      await page.addInitScript(() => {
        const post = Worker.prototype.postMessage;
        Worker.prototype.postMessage = function (...all) { if (!window.endless) post.apply(this, all); };
      });
      await go(page, 'bench/text');
      await page.getByLabel('Text of the file').fill(readFileSync(`${kit.root}/examples/streptocarpus-cycle.toml`, 'utf8'));
      await page.getByRole('button', { name: 'Keep', exact: true }).click();
      await page.getByText('Kept.').waitFor();
      await go(page, 'plan');
      broken = 1;
      await page.evaluate(() => { window.endless = true; });
      await page.getByLabel('First day').fill('2027-01-04');
      await page.getByRole('button', { name: 'Stop' }).click();
      await page.evaluate(() => { window.endless = false; });
      await page.getByText('Stopped. What you typed is still here.').waitFor();
      assert.equal(await page.getByLabel('First day').inputValue(), '2027-01-04');
      // the module that comes next traps at its first answer
      await page.getByLabel('First day').fill('2027-01-05');
      await page.getByText('The program failed on this request and was started anew').waitFor();
      assert.equal(await page.getByLabel('First day').inputValue(), '2027-01-05');
      await page.getByLabel('First day').fill('2027-01-06');
      await shown(page).waitFor({ timeout: 60_000 });
      assert.match(await shown(page).evaluate((node) => node.shadowRoot.textContent), /2027-01-06|6 Jan/);
      await made.close();
    },
  };
}
