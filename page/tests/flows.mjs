// What a grower does, by touch and by keyboard.

import { readFileSync } from 'node:fs';
import { strict as assert } from 'node:assert';
import { kept, opens, read, settled, shown, weights } from './steps.mjs';

export function flows(kit) {
  const { context, host, told, PHONE, DESK, native } = kit;
  const go = opens(host);

  return {
    async 'first time by touch: hard water, five salts, one scale, a push, a reading three days later, and what to do'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await page.clock.install({ time: new Date('2026-11-20T10:00:00+01:00') });
      await page.goto(host.url);
      await page.getByRole('link', { name: /Set up my bench/ }).tap();
      await page.getByLabel('How much does the tank hold?').fill('60');
      await page.getByLabel('Which water?').selectOption('tap');
      await page.getByLabel('What is known of the tap water?').selectOption('report');
      await page.getByLabel('Calcium, ppm').fill('90');
      await page.getByLabel('Alkalinity', { exact: true }).fill('220');
      await page.getByLabel('pH', { exact: true }).fill('7,6');
      for (const salt of ['calcium nitrate tetrahydrate', 'monopotassium phosphate', 'potassium nitrate', 'magnesium sulfate heptahydrate', 'iron(III) DTPA']) {
        await page.getByLabel('Find a salt').fill(salt);
        await page.locator('fieldset label.check:visible', { hasText: salt }).last().tap();
      }
      await page.getByRole('button', { name: 'Make my bench and weigh' }).tap();
      await page.getByLabel('Formula').selectOption('push');
      await settled(page);
      await page.waitForFunction(() => document.querySelector('.result .sheet')?.shadowRoot.querySelector('h1').textContent.includes('push'));
      const bench = await kept(page, 'bench');
      assert.match(bench, /alkalinity = "220 mg\/L CaCO3"\npH = 7\.6/);
      const doc = JSON.parse((await native([{ job: 'mix', formula: 'push', bench }]))[0]);
      const here = await weights(page);
      for (const dose of doc.doses.filter((dose) => dose.measure === 'scale')) assert.ok(here.some((line) => line.includes(dose.name)), `${dose.name} in ${here}`);
      const text = await shown(page).evaluate((node) => node.shadowRoot.textContent);
      // missed targets are told together where they are many
      for (const finding of doc.findings.filter((one) => one.severity !== 'note')) assert.ok(text.includes(finding.code === 'target-missed' ? `${finding.message.split(' ')[0]} ` : finding.message.slice(0, 40)), finding.message);
      await page.locator('.result .weights tbody tr').first().tap();
      assert.equal(await page.locator('.result input:checked').count(), 1);
      await page.getByRole('button', { name: 'It is in the tank: enter it' }).tap();
      await page.getByText('Kept as entry 1').waitFor();
      await page.clock.setFixedTime(new Date('2026-11-23T10:00:00+01:00'));
      await page.getByRole('link', { name: 'Meter' }).tap();
      await read(page, String((doc.ec_ms_cm * 0.9).toFixed(2)), '7.2');
      await page.getByText('Kept as entry 2').waitFor();
      await page.getByRole('link', { name: 'Now' }).tap();
      await shown(page).waitFor();
      const today = await shown(page).evaluate((node) => node.shadowRoot.textContent);
      assert.match(today, /push/);
      // the same files give the same answers to the terminal
      const [benchFile, bookFile] = [kit.write('own.toml', bench), kit.write('own.jsonl', await kept(page, 'logbook:'))];
      const terminal = kit.run('today', '--bench', benchFile, '--logbook', bookFile, '--at', '2026-11-23T10:00:00+01:00', '--json');
      const [asked] = await native([{ job: 'today', bench, logbooks: [await kept(page, 'logbook:')], now: '2026-11-23T10:00:00+01:00' }]);
      assert.deepEqual(JSON.parse(terminal), JSON.parse(asked));
      const tank = JSON.parse(terminal).tanks[0];
      assert.ok(today.replaceAll(/\s+/g, ' ').includes(tank.formula), tank.formula);
      await made.close();
    },

    async 'ticks survive a reload and a kill, and are cleared when weights change; by keyboard alone'() {
      const made = await context(DESK);
      let page = await made.newPage();
      await go(page, 'mix');
      await settled(page);
      for (let tabs = 0; tabs < 40 && !(await page.evaluate(() => document.activeElement?.shadowRoot?.activeElement?.type === 'checkbox')); tabs += 1) await page.keyboard.press('Tab');
      await page.keyboard.press('Space');
      await page.waitForTimeout(150);
      await page.reload();
      await page.locator('.result .weights').waitFor();
      assert.equal(await page.locator('.result input:checked').count(), 1, 'a reload keeps the tick');
      const session = await made.newCDPSession(page);
      session.send('Page.crash').catch(() => {});
      await page.waitForEvent('crash');
      page = await made.newPage();
      await go(page, 'mix');
      await page.locator('.result .weights').waitFor();
      assert.equal(await page.locator('.result input:checked').count(), 1, 'a kill keeps the tick');
      await page.getByLabel('Formula').focus();
      await page.keyboard.press('p');
      await page.waitForFunction(() => document.querySelector('.result .sheet')?.shadowRoot.querySelector('h1').textContent.includes('push'));
      assert.equal(await page.locator('.result input:checked').count(), 0, 'other weights, no tick');
      await made.close();
    },

    async 'a slip stands beside its field, in the words of the library, and what was typed stays'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'mix');
      await settled(page);
      await page.getByLabel('Tank', { exact: true }).fill('60 galon');
      const said = page.locator('.field', { has: page.getByLabel('Tank', { exact: true }) }).locator('.refused');
      await said.waitFor();
      const [line] = await native([{ job: 'mix', formula: 'growth', tank: '60 galon' }]);
      assert.ok((await said.textContent()).includes(JSON.parse(line).problems[0].message));
      assert.equal(await page.getByLabel('Tank', { exact: true }).getAttribute('aria-invalid'), 'true');
      await page.reload();
      assert.equal(await page.getByLabel('Tank', { exact: true }).inputValue(), '60 galon');
      await page.getByLabel('Tank', { exact: true }).fill('1,5');
      await page.locator('.result .weights').waitFor();
      assert.match(await shown(page).evaluate((node) => node.shadowRoot.querySelector('.aside').textContent), /^1\.5 L/);
      await go(page, 'bench/text');
      await page.getByLabel('Text of the file').fill('[tank]\nvolume = "60 L"\nvolum = 3\n');
      await page.getByRole('link', { name: /line 3/ }).waitFor();
      await page.getByRole('button', { name: 'Keep', exact: true }).click();
      await page.getByText('Not kept').waitFor();
      assert.equal(await kept(page, 'bench'), undefined);
      await made.close();
    },

    async 'logbook: what happened, voided, never lost'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'mix');
      await page.getByRole('button', { name: 'It is in the tank: enter it' }).tap();
      await page.getByText('Kept as entry 1').waitFor();
      await go(page, 'read');
      await page.getByRole('button', { name: 'Keep and explain' }).tap();
      await page.getByRole('alert').filter({ hasText: /\w/ }).first().waitFor();
      await read(page, '1,1', '5.9');
      await page.getByText('Kept as entry 2').waitFor();
      await go(page, 'logbook');
      await page.getByText('Something else happened').tap();
      for (const [what, fill] of [['drained', ['How much', '5']], ['topped-up', ['How much', '5 L']], ['note', ['What to remember', 'leaves pale <b>at</b> the edge']], ['stalks', null], ['phase', ['Which', 'push']], ['analysis', ['What it found, one a line', 'N=88\nK=90']], ['added', ['What went in, one a line', 'potassium-nitrate=1.5g']]]) {
        await page.getByLabel('What happened').selectOption(what);
        if (fill) await page.getByLabel(fill[0], { exact: true }).fill(fill[1]);
        await page.getByRole('button', { name: 'Keep', exact: true }).tap();
        await page.locator('.kept').waitFor();
      }
      await page.getByRole('button', { name: 'Void entry 2', exact: true }).tap();
      await page.getByRole('button', { name: 'Yes, void entry 2' }).tap();
      await page.getByText('Entry 2 is voided').waitFor();
      const book = await kept(page, 'logbook:');
      const lines = book.trimEnd().split('\n').map((line) => JSON.parse(line));
      assert.equal(lines.length, 10);
      assert.equal(lines[1].ec_ms_cm, 1.1);
      kit.run('logbook', 'show', kit.write('book.jsonl', book));
      await made.close();
    },

    async 'what went in otherwise is entered so, and the day is asked for anew'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'mix');
      await page.getByText('Something went in otherwise').tap();
      await page.getByLabel('What really went in, one a line').fill('potassium-nitrate=400g');
      await page.getByRole('button', { name: 'It is in the tank: enter it' }).tap();
      await page.getByRole('alert').filter({ hasText: 'times what the recipe weighs' }).waitFor();
      await page.getByRole('button', { name: 'No, I change it' }).tap();
      await page.getByLabel('What really went in, one a line').fill('potassium-nitrate=14g\nboric-acid=0g');
      await page.getByRole('button', { name: 'It is in the tank: enter it' }).tap();
      await page.getByText('Kept as entry 1').waitFor();
      const [line] = (await kept(page, 'logbook:')).trimEnd().split('\n').map((line) => JSON.parse(line));
      assert.equal(line.salts_g['potassium-nitrate'], 14);
      assert.equal(line.salts_g['boric-acid'], undefined);
      await go(page, 'read');
      await page.getByLabel('Level in the tank').fill('50');
      await page.getByRole('button', { name: 'Keep and explain' }).tap();
      await page.getByRole('button', { name: 'Yes, keep it' }).tap(); // ten litres within the minute are asked back
      await page.getByText('Kept as entry 2').waitFor();
      await go(page, 'now');
      await page.getByRole('button', { name: 'Poured: enter it' }).tap();
      await page.getByText('this is the day with it').waitFor();
      assert.equal(await page.getByRole('button', { name: 'Poured: enter it' }).count(), 0, 'nothing is left to pour');
      await made.close();
    },

    async 'an entry that looks like a slip is asked back, and kept when it is none'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'mix');
      await page.getByRole('button', { name: 'It is in the tank: enter it' }).tap();
      await page.getByText('Kept as entry 1').waitFor();
      const before = await kept(page, 'logbook:');
      await go(page, 'read');
      await read(page, '12,5');
      const question = page.getByRole('alert').filter({ hasText: 'Is it as it was typed?' });
      await question.waitFor();
      const [line] = await native([{ job: 'logbook-add', logbook: before, now: new Date().toISOString(), entry: { event: 'reading', ec: '12.5 mS/cm' } }]);
      assert.ok((await question.textContent()).includes(JSON.parse(line).problems[0].help), line);
      assert.equal(await page.evaluate(() => document.activeElement.textContent), 'No, I change it');
      await page.getByRole('button', { name: 'No, I change it' }).tap();
      await page.getByText('Not kept. What you typed is still here.').waitFor();
      assert.equal(await page.getByLabel('EC', { exact: true }).inputValue(), '12,5');
      assert.equal(await kept(page, 'logbook:'), before, 'nothing was written');
      await page.getByRole('button', { name: 'Keep and explain' }).tap();
      await page.getByRole('button', { name: 'Yes, keep it' }).tap();
      await page.getByText('Kept as entry 2').waitFor();
      assert.equal(JSON.parse((await kept(page, 'logbook:')).slice(before.length)).ec_ms_cm, 12.5);
      await page.getByRole('alert').filter({ hasText: 'Is it as it was typed?' }).waitFor({ state: 'detached' });
      await made.close();
    },

    async 'every other job gives a page: turn over, top up, check, forecast, scale, stock, plan, one against another, salts'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'mix');
      await page.getByRole('button', { name: 'Keep the recipe' }).tap();
      await page.getByText(/^Kept as/).waitFor();
      await page.getByRole('button', { name: 'It is in the tank: enter it' }).tap();
      await page.getByText('Kept as entry 1').waitFor();
      for (const screen of ['switch', 'stock', 'trade', 'forecast']) {
        await go(page, screen);
        await shown(page).waitFor();
      }
      await go(page, 'switch');
      await page.getByRole('button', { name: 'It is done: enter it' }).tap();
      await page.getByText('Kept as entry').waitFor();
      await go(page, 'top-up');
      await settled(page);
      await go(page, 'check');
      await page.getByLabel('What went in, one a line').fill('potassium-nitrate=14.1g\nmagnesium-sulfate-heptahydrate=13,4 g');
      await shown(page).waitFor();
      await page.getByLabel('What went in, one a line').fill('');
      await page.getByLabel('or a kept recipe').selectOption({ index: 1 });
      await page.getByLabel('The EC meter reads').fill('1,2');
      await page.waitForFunction(() => document.querySelector('.result .sheet')?.shadowRoot.textContent.includes('1.2'));
      await go(page, 'scale');
      await page.getByLabel('Kept recipe').selectOption({ index: 1 });
      await page.getByLabel('To', { exact: true }).fill('20');
      await shown(page).waitFor();
      await go(page, 'salts');
      await page.getByLabel(/everyday name/).fill('epsom');
      await page.getByRole('link', { name: /magnesium sulfate heptahydrate/ }).tap();
      await page.locator('.result').getByText(/epsom/i).first().waitFor();
      await made.close();
    },

    async 'two tanks, each with a logbook of its own; a first day without a plan does not hide what to do now'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'bench/text');
      const starter = await page.getByLabel('Text of the file').inputValue();
      await page.getByLabel('Text of the file').fill(starter.replace('[tank]', '[[tank]]\nid = "large"').replace('\n[[scale]]', '\n[[tank]]\nid = "small bench"\nvolume = "20 L"\n\n[[scale]]'));
      await page.getByRole('button', { name: 'Keep', exact: true }).tap();
      await page.getByText('Kept.').waitFor();
      await go(page, 'plan');
      await page.getByLabel('First day').fill('2027-01-04');
      await page.getByRole('alert').filter({ hasText: /no \[cycle\]/ }).waitFor();
      await go(page, 'read');
      await page.getByLabel('Tank', { exact: true }).selectOption('small bench');
      await page.waitForTimeout(400);
      await read(page, '1.1');
      await page.locator('.kept').waitFor();
      assert.match(await kept(page, 'logbook:small bench'), /small bench/);
      assert.equal(await kept(page, 'logbook:large'), undefined);
      await go(page, 'now');
      await shown(page).waitFor();
      assert.match(await shown(page).evaluate((node) => node.shadowRoot.textContent), /Tank 20 L/);
      await made.close();
    },

    async 'the plan, with a calendar and a table to hand to the phone'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'bench/text');
      await page.getByLabel('Text of the file').fill(readFileSync(`${kit.root}/examples/streptocarpus-cycle.toml`, 'utf8'));
      await page.getByRole('button', { name: 'Keep', exact: true }).tap();
      await page.getByText('Kept.').waitFor();
      await go(page, 'plan');
      await page.getByLabel('First day').fill('2027-01-04');
      await shown(page).waitFor();
      const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Calendar file' }).tap()]);
      assert.match(readFileSync(await file.path(), 'utf8'), /^BEGIN:VCALENDAR\r\n/);
      await made.close();
    },

    async 'without a network after one visit'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await page.goto(host.url);
      await page.evaluate(() => navigator.serviceWorker.ready);
      await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
      await made.setOffline(true);
      const before = host.seen.length;
      await page.goto(`${host.url}#mix`);
      await page.reload();
      await page.locator('.result .weights').waitFor();
      assert.equal(host.seen.length, before, 'nothing was fetched');
      await made.close();
    },

    async 'two tabs lose nothing'() {
      const made = await context(DESK);
      const tabs = await Promise.all([made.newPage(), made.newPage()]);
      await Promise.all(tabs.map((page) => go(page, 'read')));
      const each = 8;
      await Promise.all(tabs.map(async (page, tab) => {
        for (let number = 1; number <= each; number += 1) {
          await read(page, `1.${tab}${String(number).padStart(2, '0')}`);
          await page.waitForFunction(() => document.querySelector('.kept') && !document.querySelector('input[name=ec]').value);
        }
      }));
      const lines = (await kept(tabs[0], 'logbook:')).trimEnd().split('\n').map((line) => JSON.parse(line));
      assert.equal(lines.length, 2 * each);
      assert.deepEqual(lines.map((line) => line.entry), lines.map((_, number) => number + 1));
      assert.equal(new Set(lines.map((line) => line.ec_ms_cm)).size, 2 * each);
      await tabs[0].reload();
      await tabs[0].getByText(`${2 * each} entries since the last copy`).waitFor();
      await made.close();
    },

    async 'what is typed while another tab keeps an entry stands, and so does what was told as kept'() {
      const made = await context(DESK);
      const page = await made.newPage();
      await go(page, 'read');
      for (let wait = 0; wait <= 30; wait += 1) {
        const value = `1.${100 + wait}`;
        await page.evaluate(async ([typed, ms]) => {
          document.activeElement?.blur();
          delete document.querySelector('form').dataset.touched;
          new BroadcastChannel('bloomsalt').postMessage('logbook:');
          await new Promise((later) => setTimeout(later, ms));
          const field = document.querySelector('input[name=ec]');
          field.value = typed;
          field.dispatchEvent(new InputEvent('input', { bubbles: true }));
          window.typedInto = field;
        }, [value, wait]);
        await page.waitForTimeout(60);
        assert.equal(await page.evaluate(() => window.typedInto.isConnected), true, `drawn over after ${wait} ms`);
        assert.equal(await page.getByLabel('EC', { exact: true }).inputValue(), value);
      }
      await page.getByRole('button', { name: 'Keep and explain' }).click();
      await page.getByText('Kept as entry 1').waitFor();
      await page.evaluate(() => { document.activeElement?.blur(); new BroadcastChannel('bloomsalt').postMessage('logbook:'); });
      await page.waitForTimeout(300);
      assert.equal(await page.getByText('Kept as entry 1').isVisible(), true);
      await made.close();
    },

    async 'a page that is killed in the middle of an entry loses none that it has shown as kept'() {
      const kills = Number(process.env.BLOOMSALT_KILLS ?? 40);
      const made = await context(DESK);
      const acknowledged = new Set();
      await made.addInitScript(() => new MutationObserver(() => {
        const words = document.querySelector('.kept')?.textContent;
        if (words && words !== window.toldKept) console.log((window.toldKept = words), window.typedEc);
      }).observe(document, { subtree: true, childList: true, characterData: true }));
      let state = 7;
      const one = async (number) => {
        const page = await made.newPage();
        const ec = (1 + number / 1000).toFixed(3);
        page.on('console', (message) => /^Kept as entry/.test(message.text()) && acknowledged.add(Number(ec)));
        await go(page, 'read');
        await page.evaluate((value) => { window.typedEc = value; }, ec);
        const session = await made.newCDPSession(page);
        await read(page, ec);
        state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
        await new Promise((wait) => setTimeout(wait, (state / 2 ** 32) * 120));
        session.send('Page.crash').catch(() => {});
        await page.waitForEvent('crash', { timeout: 5000 }).catch(() => {});
        await page.close().catch(() => {});
      };
      for (let number = 1; number <= kills; number += 4) await Promise.all([0, 1, 2, 3].filter((more) => number + more <= kills).map((more) => one(number + more)));
      const page = await made.newPage();
      await go(page, 'logbook');
      const book = (await kept(page, 'logbook:')) ?? '';
      const there = new Set(book.split('\n').filter(Boolean).map((line) => JSON.parse(line).ec_ms_cm));
      const lost = [...acknowledged].filter((ec) => !there.has(ec));
      told.kills = `${kills} kills, ${acknowledged.size} entries acknowledged, ${there.size} in the logbook, ${lost.length} lost`;
      assert.equal(lost.length, 0);
      kit.run('logbook', 'show', kit.write('killed.jsonl', book));
      await made.close();
    },

    async 'a copy is saved, and taken back on another device'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'bench/text');
      await page.getByRole('button', { name: 'Keep', exact: true }).tap();
      await page.getByText('Kept.').waitFor();
      await go(page, 'read');
      await read(page, '1.3', '6');
      await page.locator('.kept').waitFor();
      await go(page, 'keep');
      const [file] = await Promise.all([page.waitForEvent('download'), page.getByRole('button', { name: 'Save a copy of everything' }).tap()]);
      const copy = readFileSync(await file.path(), 'utf8');
      const files = JSON.parse(copy).files;
      kit.run('logbook', 'show', kit.write('logbook.jsonl', files['logbook.jsonl']));
      kit.run('mix', 'push', '--bench', kit.write('bench.toml', files['bench.toml']));
      const other = await context(DESK);
      const there = await other.newPage();
      await go(there, 'keep');
      await there.getByLabel(/A copy, a bench file/).setInputFiles({ name: 'copy.json', mimeType: 'application/json', buffer: Buffer.from(copy) });
      await there.getByText('1 entries are here now').waitFor();
      assert.equal(await kept(there, 'logbook:'), await kept(page, 'logbook:'));
      assert.equal(await kept(there, 'bench'), await kept(page, 'bench'));
      await there.getByLabel(/A copy, a bench file/).setInputFiles({ name: 'logbook.jsonl', mimeType: 'text/plain', buffer: Buffer.from('{"no":"logbook"}\n') });
      await there.getByRole('alert').waitFor();
      assert.equal(await kept(there, 'logbook:'), await kept(page, 'logbook:'), 'a damaged file changes nothing');
      // both go on by themselves, and are one again
      for (const [where, ec] of [[page, '1.25'], [there, '1.28']]) {
        await go(where, 'read');
        await read(where, ec);
        await where.getByText('Kept as entry 2').waitFor();
      }
      await go(there, 'keep');
      await there.getByLabel(/A copy, a bench file/).setInputFiles({ name: 'logbook.jsonl', mimeType: 'text/plain', buffer: Buffer.from(await kept(page, 'logbook:')) });
      await there.getByText('1 entry was missing').waitFor();
      const lines = (await kept(there, 'logbook:')).trimEnd().split('\n').map((line) => JSON.parse(line));
      assert.deepEqual(lines.map((line) => [line.entry, line.ec_ms_cm]), [[1, 1.3], [2, 1.28], [3, 1.25]]);
      await other.close();
      await made.close();
    },
  };
}
