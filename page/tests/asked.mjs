// What the page asks: before the first bench, and back before something counts no more; and where it tells what came of a press.

import { strict as assert } from 'node:assert';
import { kept, opens, read, settled, shown, weights } from './steps.mjs';

export function asked(kit) {
  const { context, host, PHONE, native } = kit;
  const go = opens(host);
  const enter = (page) => page.getByRole('button', { name: 'It is in the tank: enter it' });
  const fill = async (page, values) => {
    for (const [label, value] of Object.entries(values)) await page.getByLabel(label, { exact: true }).fill(value);
  };
  /** What the library reads of the bench that is kept. */
  const written = async (page) => JSON.parse((await native([{ job: 'bench-read', bench: await kept(page, 'bench') }]))[0]).written;
  /** How far under a button its words stand, and whether they are seen above the tabs. */
  const under = (page, words) => page.evaluate((told) => {
    const said = [...document.querySelectorAll('[role=status]')].find((node) => node.textContent.includes(told));
    const [button, line] = [document.activeElement.getBoundingClientRect(), said.getBoundingClientRect()];
    return { pressed: document.activeElement.textContent, below: line.top - button.bottom, seen: line.top >= 0 && line.bottom <= document.getElementById('tabs').getBoundingClientRect().top };
  }, words);

  /** Nothing of what stands there now is wrong for axe, nor wider than a small phone. */
  const sound = async (page, where) => {
    await page.evaluate(kit.axe);
    const { violations } = await page.evaluate(() => window.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
    assert.deepEqual(violations.map((one) => `${where}: ${one.id}: ${one.nodes[0].html.slice(0, 160)}`), []);
    await page.setViewportSize({ width: 320, height: 844 });
    assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 320, `${where}: sideways at 320 px`);
    await page.setViewportSize(PHONE.viewport);
  };

  return {
    async 'what came of a press is told under the finger, to a screen reader too, and the button keeps the focus'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      for (const [screen, button, words] of [['mix', 'Keep the recipe', 'Kept as "growth'], ['mix', 'It is in the tank: enter it', 'Kept as entry 1'], ['switch', 'It is done: enter it', 'Kept as entry'], ['keep', 'Save a copy of everything', 'Saved.'], ['bench/text', 'Keep', 'Kept.']]) {
        await go(page, screen);
        const pressed = page.getByRole('button', { name: button, exact: true });
        await pressed.waitFor();
        const regions = await page.locator('[role=status]').count();
        await pressed.tap();
        await page.getByText(words).first().waitFor();
        const { pressed: name, below, seen } = await under(page, words);
        assert.equal(name, button, `${screen}: the focus`);
        assert.ok(seen && below >= 0 && below < 160, `${screen}: ${below} px under the button, ${seen ? '' : 'not '}seen`);
        assert.equal(await page.locator('[role=status]').count(), regions, `${screen}: the place was there before the words`);
        await sound(page, `${screen}, told`);
        if (screen !== 'mix') continue;
        await page.locator('.result section', { has: page.locator('h2', { hasText: 'Balance' }) }).waitFor();
        assert.ok((await under(page, words)).seen, 'pictures that come later do not push it away');
      }
      await go(page, 'read');
      await read(page, '1.2');
      await page.getByText(/^Kept as entry/).waitFor();
      const { below, seen } = await under(page, 'Kept as entry');
      assert.ok(seen && below >= 0 && below < 160, `a reading: ${below} px under the button`);
      await made.close();
    },

    async 'what is due leads to its job with the formula chosen, and a slip that is asked back is not told as being kept'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await page.clock.install({ time: new Date('2026-11-20T10:00:00+01:00') });
      await go(page, 'mix');
      await page.getByLabel('Formula', { exact: true }).selectOption('push');
      await settled(page);
      await enter(page).tap();
      await page.getByText('Kept as entry 1').waitFor();
      await page.clock.setFixedTime(new Date('2026-12-19T10:00:00+01:00'));
      await go(page, 'now');
      await page.getByRole('link', { name: 'Turn over to growth' }).tap();
      await page.locator('#screen[data-shown="#switch"] h1').first().waitFor();
      assert.equal(await page.getByLabel('Turn over to').inputValue(), 'growth');
      await page.locator('.result .sheet').getByText('Switch to growth').waitFor();
      await go(page, 'read');
      await read(page, '10,6');
      await page.getByRole('button', { name: 'No, I change it' }).waitFor();
      assert.equal(await page.getByText('Keeping…').count(), 0);
      await made.close();
    },

    async 'voiding is asked back with what it changes, and told where the entry stands'() {
      const made = await context({ ...PHONE, colorScheme: 'dark' });
      const page = await made.newPage();
      await page.clock.install({ time: new Date('2026-11-20T10:00:00+01:00') });
      await go(page, 'mix');
      await enter(page).tap();
      await page.getByText('Kept as entry 1').waitFor();
      await page.clock.setFixedTime(new Date('2026-11-23T10:00:00+01:00'));
      await go(page, 'read');
      await fill(page, { 'Level in the tank': '50' });
      await read(page, '1,1', '5.9');
      await page.getByText('Kept as entry 2').waitFor();
      const before = await kept(page, 'logbook:');
      await go(page, 'logbook');
      await page.getByRole('button', { name: 'Void entry 2', exact: true }).tap();
      const question = page.locator('.entries li').first().getByRole('alert');
      await question.waitFor();
      const words = await question.textContent();
      assert.match(words, /Void entry 2\?.*2026-11-23 10:00 reading: EC 1\.1 mS\/cm, pH 5\.9, level 50 L/);
      // what it says is what the library knows with the entry and without it
      const now = '2026-11-23T10:00:00+01:00';
      const [line] = await native([{ job: 'logbook-add', logbook: before, now, entry: { event: 'void', entry: 2 } }]);
      const [here, there] = (await native([before, before + JSON.parse(line).append].map((logbook) => ({ job: 'logbook-now', logbook, now })))).map((text) => JSON.parse(text));
      assert.ok(words.includes(`Level: about ${Number(here.level_l.toPrecision(3))} L; without it about ${Number(there.level_l.toPrecision(3))} L`), words);
      assert.notEqual(here.level_l, there.level_l);
      await sound(page, 'asked back');
      assert.equal(await page.evaluate(() => document.activeElement.textContent), 'No, it stands');
      await page.getByRole('button', { name: 'No, it stands' }).tap();
      await question.waitFor({ state: 'detached' });
      await page.getByRole('button', { name: 'Void entry 1', exact: true }).tap();
      await page.getByText('Without it nothing is known of what is in the tank now.').waitFor();
      await page.getByRole('button', { name: 'No, it stands' }).tap();
      assert.equal(await kept(page, 'logbook:'), before, 'nothing was written');
      await page.getByRole('button', { name: 'Void entry 2', exact: true }).tap();
      await page.getByRole('button', { name: 'Yes, void entry 2' }).tap();
      const told = page.locator('.entries li', { hasText: 'voided by entry 3' }).getByText('Entry 2 is voided');
      await told.waitFor();
      assert.equal(await told.evaluate((node) => node === document.activeElement), true, 'where the finger was, and heard');
      assert.ok((await kept(page, 'logbook:')).startsWith(before), 'only appended');
      await made.close();
    },

    async 'first questions: rain beside a tap in German degrees, a ppm meter, a jug, an acid of its own strength and a label'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'first');
      assert.equal(await page.getByLabel('How much rain is there for a tank?').isVisible(), false);
      await fill(page, { 'How much does the tank hold?': '60', 'How warm is it?': '21' });
      await page.getByLabel('What does your EC meter show?').selectOption('500');
      await page.getByLabel('Which water?').selectOption('both');
      await fill(page, { 'How much rain is there for a tank?': '25', 'Calcium, ppm (mg/L)': '72', 'Magnesium, ppm': 'nine', Alkalinity: '9,5', pH: '7.4' });
      await page.getByLabel('The report states it in').selectOption('°dH');
      await fill(page, { 'From one mark of the syringe to the next': '1', 'The syringe holds': '20' });
      await page.getByText('A measuring jug', { exact: true }).tap();
      await fill(page, { 'From one mark of a measuring jug to the next': '10', 'The jug is full at': '1 foo' });
      await fill(page, { 'Others, one a line': 'epsom\nnitric acid 38 %', 'Labelled products, one a line': 'leaf feed: NO3-N 8,5, P2O5 10, K2O 30', 'Which acid brings the pH down?': 'nitric acid 38 %', 'To which pH?': '5,9' });
      const make = page.getByRole('button', { name: 'Make my bench and weigh' });
      const refused = (label) => page.locator('.field', { has: page.getByLabel(label, { exact: true }) }).locator('.refused');
      await make.tap();
      await refused('The jug is full at').getByText('foo').waitFor();
      assert.equal(await page.evaluate(() => document.activeElement.name), 'jug_capacity');
      await page.getByLabel('The jug is full at').fill('1 L');
      await make.tap();
      await refused('Magnesium, ppm').getByText('nine').waitFor();
      assert.equal(await page.evaluate(() => document.activeElement.name), 'Mg');
      assert.equal(await page.locator('.refused:visible').count(), 1);
      await sound(page, 'first questions');
      assert.equal(await kept(page, 'bench'), undefined);
      await page.getByLabel('Magnesium, ppm').fill('8');
      await make.tap();
      await page.locator('#screen[data-shown="#mix"]').waitFor();
      const { tank, meter, water, syringe, jug, shelf, product, acid } = await written(page);
      assert.deepEqual(tank, { volume: '60 L', temperature: '21 C' });
      assert.equal(meter.scale, 500);
      assert.deepEqual(water, [{ id: 'rain', on_hand: '25 L' }, { id: 'tap', Ca: 72, Mg: 8, alkalinity: '9.5 °dH', pH: 7.4 }]);
      assert.deepEqual([syringe.step, syringe.capacity], ['1 mL', '20 mL']);
      assert.deepEqual(jug, [{ id: 'jug', step: '10 mL', trust: 0.05, capacity: '1 L' }]);
      assert.ok('magnesium-sulfate-heptahydrate' in shelf && 'nitric-acid-38' in shelf && 'leaf-feed' in shelf, Object.keys(shelf).join());
      assert.deepEqual(product[0].analysis, { 'NO3-N': 8.5, P2O5: 10, K2O: 30 });
      assert.deepEqual([acid.salt, acid.target_pH], ['nitric-acid-38', 5.9]);
      await made.close();
    },

    async 'first questions: a tap without a report; another bench is replaced only when asked, and stays to be had'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      for (const [known, ec, wanted] of [['ec', '0,45', { EC: '0.45 mS/cm' }], ['nothing', null, {}]]) {
        await go(page, 'first');
        const before = await kept(page, 'bench');
        await fill(page, { 'How much does the tank hold?': '40' });
        await page.getByLabel('Which water?').selectOption('tap');
        await page.getByLabel('What is known of the tap water?').selectOption(known);
        if (ec) await page.getByLabel('EC of the tap water').fill(ec);
        await page.getByRole('button', { name: 'Make my bench and weigh' }).tap();
        if (before) {
          await page.getByRole('button', { name: 'No, keep the old one' }).tap();
          assert.equal(await kept(page, 'bench'), before);
          await page.getByRole('button', { name: 'Make my bench and weigh' }).tap();
          await page.getByRole('button', { name: 'Yes, replace it' }).tap();
        }
        await page.locator('#screen[data-shown="#mix"]').waitFor();
        assert.deepEqual((await written(page)).water, wanted);
      }
      await go(page, 'keep');
      await page.getByRole('button', { name: 'Save bench-before.toml' }).waitFor();
      await made.close();
    },

    async 'first questions: what is taken for a name of several salts is told first, and the forms of nitrogen are asked'() {
      const made = await context({ ...PHONE, colorScheme: 'dark' });
      const page = await made.newPage();
      await go(page, 'first');
      const products = page.getByLabel('Labelled products, one a line');
      await fill(page, { 'How much does the tank hold?': '60', 'Others, one a line': 'calcium nitrate\nMKP' });
      await products.fill('leaf feed: N 8,5, P2O5 10, K2O 30\nroot feed: NO3-N 4, K2O 5');
      await page.getByRole('button', { name: 'Make my bench and weigh' }).tap();
      const told = page.getByRole('region', { name: 'What was made of your answers' });
      await told.waitFor();
      // the words are the library's own
      const request = { job: 'new', tank: '60 L', water: { from: 'rain' }, scales: ['0.1 g'], shelf: ['calcium nitrate', 'MKP'], products: ['leaf feed: N 8.5, P2O5 10, K2O 30', 'root feed: NO3-N 4, K2O 5'] };
      const { taken, nitrogen_unsplit: unsplit } = JSON.parse((await native([request]))[0]);
      assert.deepEqual([taken.length, unsplit], [1, ['leaf feed']]);
      const words = (await told.locator('.sheet').evaluate((host) => host.shadowRoot.textContent)).replaceAll(/\s+/g, ' ');
      for (const one of [taken[0].typed, taken[0].salt, ...taken[0].others, 'leaf feed states N without its forms']) assert.ok(words.includes(one), `${one} in ${words}`);
      assert.equal(await told.evaluate((node) => node === document.activeElement), true);
      assert.equal(await kept(page, 'bench'), undefined, 'told before it counts');
      await sound(page, 'what was taken');
      const go_on = page.getByRole('button', { name: 'Take it so and weigh' });
      await fill(page, { 'Nitrate nitrogen': '5,5', 'Ammonium nitrogen': '30', 'Urea nitrogen': '0' });
      await go_on.tap();
      await page.locator('.field', { has: products }).locator('.refused:visible').waitFor();
      assert.match(await products.inputValue(), /^leaf feed: N 8,5, P2O5 10, K2O 30, NO3-N 5\.5, NH4-N 30\nroot feed: NO3-N 4, K2O 5$/);
      await products.fill((await products.inputValue()).replace('NH4-N 30', 'NH4-N 3'));
      await page.getByRole('button', { name: 'Make my bench and weigh' }).tap();
      await told.getByText('calcium nitrate is taken as').waitFor();
      assert.equal(await told.getByLabel('Nitrate nitrogen').count(), 0, 'they are known now');
      await go_on.tap();
      await page.locator('#screen[data-shown="#mix"]').waitFor();
      const { shelf, product } = await written(page);
      assert.ok(taken[0].salt in shelf, Object.keys(shelf).join());
      assert.deepEqual(product[0].analysis, { N: 8.5, P2O5: 10, K2O: 30, 'NO3-N': 5.5, 'NH4-N': 3 });
      await made.close();
    },

    async 'stock bottles that are made are entered in the bench, as made and full today, and mixes draw from them'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await page.clock.install({ time: new Date('2026-11-20T10:00:00+01:00') });
      await go(page, 'stock');
      await page.getByLabel('Formula', { exact: true }).selectOption('growth');
      await settled(page);
      const { helpers } = JSON.parse((await native([{ job: 'stock', formula: 'growth' }]))[0]);
      const all = helpers.filter((bottle) => bottle.new);
      await page.getByRole('button', { name: `The ${all.length} bottles are made: enter them` }).tap();
      await page.getByText('on the bench now').waitFor();
      assert.equal((await under(page, 'on the bench now')).seen, true);
      await page.keyboard.press('Enter'); // pressed again, it enters nothing again
      await page.waitForTimeout(300);
      const bottles = (await written(page)).helper;
      assert.deepEqual(bottles.map(({ id, volume, made_on, left, counted_on }) => [id, volume, made_on, left, counted_on]), all.map(({ id, volume_ml: ml }) => [id, `${ml / 1000} L`, '2026-11-20', `${ml} mL`, '2026-11-20']));
      for (const [at, { made_of }] of bottles.entries()) assert.deepEqual(made_of, Object.fromEntries(all[at].made_of.map(({ salt, grams }) => [salt, `${grams} g`])));
      await go(page, 'mix');
      await shown(page).waitFor();
      const text = (await weights(page)).join();
      for (const { id } of all) assert.ok(text.includes(id), `${id} in ${text}`);
      await go(page, 'bench/part/helper');
      await page.locator('summary', { hasText: all[0].id }).waitFor();
      await made.close();
    },
  };
}
