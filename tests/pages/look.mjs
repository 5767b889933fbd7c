// Validates sheets and makes pictures of them; started by look.sh, which has put the tools beside this file.
//   node look.mjs FOLDER RECORD SHEET.html ...
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join, resolve } from 'node:path';
import { crc32 } from 'node:zlib';
import { chromium } from 'playwright-core';

const [out, record, ...named] = process.argv.slice(2);
const sheets = named.map(name => resolve(name));
let complaints = 0;

const jar = join(import.meta.dirname, 'node_modules/vnu-jar/build/dist/vnu.jar');
const files = [];
let version = '';
for (const sheet of sheets) {
  const run = spawnSync('java', ['-jar', jar, '--format', 'json', '--exit-zero-always', sheet], { encoding: 'utf8' });
  const told = JSON.parse(run.stderr);
  version = told.version;
  for (const one of told.messages) console.log(`${basename(sheet)}:${one.lastLine}: ${one.type}: ${one.message}`);
  complaints += told.messages.length;
  const sum = crc32(readFileSync(sheet)).toString(16).padStart(8, '0');
  files.push({ file: basename(sheet), crc32: sum, messages: told.messages.length });
}

const profile = mkdtempSync(join(tmpdir(), 'look-'));
const browser = await chromium.launchPersistentContext(profile, {
  executablePath: '/usr/bin/chromium',
  headless: true,
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking',
    '--disable-component-update', '--disable-sync'],
});
for (const sheet of sheets) {
  const name = join(out, basename(sheet, '.html'));
  const page = await browser.newPage();
  page.on('request', request => {
    if (!request.url().startsWith('file:')) { console.log(`${basename(sheet)} asks for ${request.url()}`); complaints += 1; }
  });
  await page.goto(`file://${sheet}`);
  for (const colorScheme of ['light', 'dark']) {
    for (const [where, width] of [['desk', 1000], ['phone', 400]]) {
      await page.emulateMedia({ colorScheme });
      await page.setViewportSize({ width, height: 800 });
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      if (over > 0) { console.log(`${basename(sheet)} is ${over} px wider than a ${where}`); complaints += 1; }
      await page.screenshot({ path: `${name}-${colorScheme}-${where}.png`, fullPage: true });
    }
  }
  // printed from a dark screen all the same; and on which page each part of a sheet begins, by the words of its first heading
  const heads = await page.$$eval('.leaf h2', all => all.filter(h => h === h.closest('.leaf').querySelector('h2')).map(h => h.innerText));
  const leaves = {};
  for (const format of ['A4', 'Letter']) {
    await page.pdf({ path: `${name}-${format}.pdf`, format });
    const pages = spawnSync('pdftotext', ['-layout', `${name}-${format}.pdf`, '-'], { encoding: 'utf8' }).stdout.split('\f');
    const spaced = text => text.replace(/\s+/g, ' ');
    leaves[format] = heads.map(head => 1 + pages.findIndex(one => spaced(one).trimStart().startsWith(spaced(head))));
    leaves[format].push(pages.filter(one => one.trim()).length);
  }
  Object.assign(files.find(one => one.file === basename(sheet)), { pages: leaves });
  console.log(`${basename(sheet)} ${JSON.stringify(leaves)}`);
  await page.close();
}
await browser.close();
rmSync(profile, { recursive: true });

if (record && complaints === 0) {
  writeFileSync(record, `${JSON.stringify({ checker: `Nu HTML checker (vnu-jar) ${version}`, files }, null, 2)}\n`);
}
console.log(`${sheets.length} sheets, ${complaints} complaints`);
process.exit(complaints === 0 ? 0 : 1);
