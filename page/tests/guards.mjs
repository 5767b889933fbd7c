// What must not happen to a grower, whatever is typed and on whatever screen; and how long it takes.

import { strict as assert } from 'node:assert';
import { SCREENS, opens, read, shown } from './steps.mjs';

const HOSTILE = ['<img src=x onerror=alert(1)>', '"><script>alert(1)</script>', "'; DROP TABLE entries; --", '=HYPERLINK("x")', '\u202Egnihsup\u202C', '${alert(1)}', '😀'.repeat(300)];
const of = (sorted, share) => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))];

/** What sticks out of the screen. */
function widest(width) {
  const roots = [document, ...[...document.querySelectorAll('.sheet')].map((host) => host.shadowRoot)];
  return roots.flatMap((root) => [...root.querySelectorAll('*')]).filter((node) => node.getBoundingClientRect().right > width + 1 && !node.closest('.scroll, textarea')).map((node) => `${node.localName}.${node.getAttribute('class') ?? ''}`).slice(0, 6).join(' ');
}

export function guards(kit) {
  const { context, host, told, PHONE, DESK } = kit;
  const go = opens(host);

  return {
    async 'hostile words in every field are text'() {
      const made = await context(DESK);
      const page = await made.newPage();
      for (const screen of SCREENS.filter((one) => !one.startsWith('salts/'))) {
        await go(page, screen);
        const fields = page.locator('#screen :is(input[type=text], input[type=search], textarea)');
        for (let number = 0; number < (await fields.count()); number += 1) {
          const words = HOSTILE[number % HOSTILE.length];
          // a screen that shows itself anew closes what was open
          await page.evaluate(() => document.querySelectorAll('details').forEach((details) => { details.open = true; }));
          if (await fields.nth(number).isVisible()) await fields.nth(number).fill(words);
        }
        const submit = page.locator('#screen form button[type=submit]:visible').first();
        if (await submit.count()) await submit.click();
        await page.waitForTimeout(250);
        const strange = await page.evaluate(() => {
          const roots = [document.getElementById('screen'), ...[...document.querySelectorAll('.sheet')].map((host) => host.shadowRoot)];
          return roots.flatMap((root) => [...root.querySelectorAll('img, script, iframe, [onerror]')]).length;
        });
        assert.equal(strange, 0, screen);
      }
      const name = '<img src=x onerror=alert(2)>';
      await go(page, 'bench/text');
      await page.getByLabel('Text of the file').fill(`name = ${JSON.stringify(name)}\n[tank]\nvolume = "60 L"\n[shelf]\npotassium-nitrate = {}\n[formula.growth]\nN = 90\n`);
      await page.getByRole('button', { name: 'Keep', exact: true }).click();
      await page.getByText(/^Kept\.|Not kept/).waitFor();
      await go(page, 'mix');
      await page.getByLabel('Tank', { exact: true }).fill('60');
      await page.waitForFunction((words) => document.querySelector('.result .sheet')?.shadowRoot.textContent.includes(words), name);
      await made.close();
    },

    async 'every screen: axe finds nothing, targets are large, nothing scrolls sideways at 320 px nor with text twice as large; dark and light'() {
      const found = [];
      for (const colorScheme of ['light', 'dark']) {
        const made = await context({ ...PHONE, colorScheme });
        const page = await made.newPage();
        await go(page, 'mix');
        await page.getByRole('button', { name: 'It is in the tank: enter it' }).tap();
        await page.getByText('Kept as entry 1').waitFor();
        for (const screen of SCREENS) {
          await go(page, screen);
          await page.waitForTimeout(900);
          if (screen.startsWith('bench/part')) await page.evaluate(() => document.querySelectorAll('#screen details').forEach((details) => { details.open = true; }));
          await page.evaluate(kit.axe);
          const { violations } = await page.evaluate(() => window.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
          found.push(...violations.map((one) => `${screen} ${colorScheme}: ${one.impact} ${one.id}: ${one.nodes[0].html.slice(0, 160)} ${one.nodes[0].failureSummary.slice(0, 200)}`));
          if (process.env.BLOOMSALT_PICTURES) await page.screenshot({ path: `${process.env.BLOOMSALT_PICTURES}/${screen.replaceAll('/', '-')}-${colorScheme}.png`, fullPage: true });
          const small = await page.evaluate(() => [...document.querySelectorAll('button, .button, #tabs a, .card, input:not([type=checkbox]), select, textarea, summary, label.check')].filter((node) => node.offsetParent !== null && node.getBoundingClientRect().height < 44).map((node) => node.outerHTML.slice(0, 100)));
          found.push(...small.map((node) => `${screen}: under 44 px: ${node}`));
          if (colorScheme === 'dark') continue;
          for (const [width, text] of [[320, '100%'], [390, '200%']]) {
            await page.setViewportSize({ width, height: 844 });
            await page.evaluate((size) => { document.documentElement.style.fontSize = size; }, text);
            const wide = await page.evaluate(() => document.documentElement.scrollWidth);
            if (wide > width) found.push(`${screen}: ${wide} px wide at ${width} px, text at ${text}: ${await page.evaluate(widest, width)}`);
            if (process.env.BLOOMSALT_PICTURES && text === '200%') await page.screenshot({ path: `${process.env.BLOOMSALT_PICTURES}/${screen.replaceAll('/', '-')}-large.png` });
          }
          await page.evaluate(() => { document.documentElement.style.fontSize = ''; });
          await page.setViewportSize(PHONE.viewport);
        }
        await made.close();
      }
      told.axe = `${found.length} complaints on ${SCREENS.length} screens, dark and light`;
      assert.deepEqual(found, []);
    },

    async 'what is printed is the sheet'() {
      const made = await context(DESK);
      const page = await made.newPage();
      await go(page, 'mix');
      await shown(page).waitFor();
      await page.emulateMedia({ media: 'print' });
      for (const hidden of ['#tabs', '#screen form', '#screen .actions']) assert.equal(await page.locator(hidden).first().isVisible(), false, hidden);
      assert.equal(await page.locator('.result .weights').isVisible(), true);
      const pdf = await page.pdf({ format: 'A4' });
      assert.ok(pdf.length > 10_000);
      await made.close();
    },

    async 'what is printed of stock bottles has their labels to cut out, as many as there are bottles'() {
      const made = await context(DESK);
      const page = await made.newPage();
      await page.addInitScript(() => { window.print = () => { window.printed = (window.printed ?? 0) + 1; }; });
      await go(page, 'stock');
      await shown(page).waitFor();
      const labels = page.locator('.result section', { has: page.locator('h2', { hasText: 'Labels to cut out' }) });
      await labels.waitFor();
      await page.getByRole('button', { name: 'Print' }).click();
      assert.equal(await page.evaluate(() => window.printed), 1);
      assert.equal(await labels.locator('details').evaluate((details) => details.open), false, 'folded away on the screen');
      await page.pdf({ format: 'A4' });
      assert.equal(await labels.locator('details').evaluate((details) => details.open), true, 'open in print');
      await page.emulateMedia({ media: 'print' });
      const bottles = labels.locator('.cut');
      const { bottles: asked } = JSON.parse((await kit.native([{ job: 'stock', formula: await page.locator('select[name=formula]').inputValue() }]))[0]);
      assert.equal(await bottles.count(), asked.length);
      for (let number = 0; number < asked.length; number += 1) assert.equal(await bottles.nth(number).isVisible(), true);
      await made.close();
    },

    async 'the single file opens by itself, reckons, and keeps'() {
      const made = await context(DESK);
      const page = await made.newPage();
      const from = Date.now();
      await page.goto(`${kit.file}#mix`);
      await page.locator('.result .weights').waitFor();
      told['single file'] = `first weights after ${Date.now() - from} ms`;
      await page.goto(`${kit.file}#read`);
      await read(page, '1.2');
      await page.getByText('Kept as entry 1').waitFor();
      await page.reload();
      await page.goto(`${kit.file}#logbook`);
      await page.locator('.entries li').waitFor();
      await made.close();
    },

    async 'first weights, and from a change to new weights'() {
      const made = await context(PHONE);
      const page = await made.newPage();
      await go(page, 'mix');
      await page.evaluate(() => navigator.serviceWorker.ready);
      await page.reload();
      const first = await page.evaluate(() => new Promise((done) => {
        const look = () => (document.querySelector('.result .sheet')?.shadowRoot.querySelector('.weights') ? done(performance.now()) : requestAnimationFrame(look));
        look();
      }));
      const times = await page.evaluate(async () => {
        const input = document.querySelector('input[name=tank]');
        const all = [];
        for (let litres = 40; litres < 80; litres += 1) {
          const from = performance.now();
          input.value = `${litres} L`;
          input.dispatchEvent(new Event('input', { bubbles: true }));
          await new Promise((done) => {
            const look = () => (document.querySelector('.result .sheet')?.shadowRoot.querySelector('.aside')?.textContent.startsWith(`${litres} L`) ? done() : requestAnimationFrame(look));
            look();
          });
          all.push(performance.now() - from);
        }
        return all.sort((one, other) => one - other);
      });
      told['first weights'] = `${first.toFixed(0)} ms after opening the folder`;
      told['a change to new weights'] = `median ${of(times, 0.5).toFixed(0)} ms, worst ${times.at(-1).toFixed(0)} ms of ${times.length}`;
      // Chromium slows the page's own thread only: so the library runs on that thread for this figure
      const session = await made.newCDPSession(page);
      await session.send('Emulation.setCPUThrottlingRate', { rate: 4 });
      const slow = await page.evaluate(async () => {
        const from = performance.now();
        const { instance: { exports: library } } = await WebAssembly.instantiate(await (await fetch('bloomsalt.wasm')).arrayBuffer(), {});
        const all = [];
        let first = 0;
        for (let litres = 40; litres < 70; litres += 1) {
          const started = performance.now();
          const bytes = new TextEncoder().encode(JSON.stringify({ job: 'mix', formula: 'push', tank: `${litres} L` }));
          const at = library.room(bytes.length);
          new Uint8Array(library.memory.buffer, at, bytes.length).set(bytes);
          library.answer(3, 20261126);
          if (litres === 40) first = performance.now() - from;
          else all.push(performance.now() - started);
        }
        return { first, all: all.sort((one, other) => one - other) };
      });
      told['on a thread a quarter as fast'] = `engine and first weights ${slow.first.toFixed(0)} ms, a mix ${of(slow.all, 0.5).toFixed(0)} ms at the median, ${slow.all.at(-1).toFixed(0)} ms at worst`;
      await made.close();
    },
  };
}
