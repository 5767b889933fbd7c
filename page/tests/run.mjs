// Drives the built page in Chromium. node page/tests/run.mjs FOLDER PROGRAM ROOT TOOLS [only WORD]
//
// BLOOMSALT_EACH: requests of every job that are compared (100); BLOOMSALT_KILLS: kills of the page (40);
// BLOOMSALT_PICTURES: a folder for pictures of every screen.

import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, writeFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { asked } from './asked.mjs';
import { equal } from './equal.mjs';
import { flows } from './flows.mjs';
import { forms } from './forms.mjs';
import { guards } from './guards.mjs';
import { native } from './native.mjs';
import { serve } from './serve.mjs';

const [folder, program, root, tools, only] = process.argv.slice(2);
const require = createRequire(join(tools, 'package.json'));
const { chromium } = require('playwright-core');
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

const PHONE = { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true };
const DESK = { viewport: { width: 1280, height: 900 } };
const host = await serve(folder);
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox', '--disable-dev-shm-usage'] });
const scratch = mkdtempSync(join(tmpdir(), 'bloomsalt-page-'));

/** Every violation of the content policy, every error of the page and every request that left for elsewhere fails the run. */
const wrong = [];
async function context(options = PHONE) {
  const made = await browser.newContext({ locale: 'en-GB', timezoneId: 'Europe/Berlin', acceptDownloads: true, ...options });
  made.setDefaultTimeout(20_000);
  await made.addInitScript(() => addEventListener('securitypolicyviolation', (event) => console.error(`content policy: ${event.violatedDirective} ${event.blockedURI}`)));
  made.on('page', (page) => {
    page.on('pageerror', (error) => wrong.push(`error of the page: ${error.message}`));
    page.on('console', (message) => message.type() === 'error' && !/net::ERR_INTERNET_DISCONNECTED/.test(message.text()) && wrong.push(`console: ${message.text()}`));
    page.on('dialog', (dialog) => { wrong.push(`the browser asked: ${dialog.message()}`); dialog.accept(); });
  });
  made.on('request', (request) => {
    if (!request.url().startsWith(host.url) && !/^(blob|data|file):/.test(request.url())) wrong.push(`a request left: ${request.url()}`);
  });
  return made;
}

const told = {};
const kit = { context, host, folder, program, root, axe, browser, scratch, told, PHONE, DESK, native: native(program), file: pathToFileURL(join(folder, 'bloomsalt.html')).href, run: (...args) => execFileSync(program, args, { encoding: 'utf8', env: { ...process.env, NO_COLOR: '1' } }), write: (name, text) => { const path = join(scratch, name); writeFileSync(path, text); return path; } };

const tests = {
  async 'requests of every job give what the native program gives'() {
    const made = await context(DESK);
    const page = await made.newPage();
    await page.goto(host.url);
    const report = await equal({ page, root, native: kit.native, each: Number(process.env.BLOOMSALT_EACH ?? 100) });
    told.requests = `${report.compared} compared, ${report.refused} of them refused, ${report.different.length} different`;
    await made.close();
    if (report.different.length) throw new Error(JSON.stringify(report.different.slice(0, 3), null, 2));
  },
  ...flows(kit),
  ...asked(kit),
  ...forms(kit),
  ...guards(kit),
  async 'the Nu checker finds nothing'() {
    const jar = require.resolve('vnu-jar/build/dist/vnu.jar');
    execFileSync('java', ['-jar', jar, '--also-check-css', '--also-check-svg', join(folder, 'index.html'), join(folder, 'bloomsalt.html'), join(folder, 'style.css'), join(folder, 'icon.svg')], { stdio: 'pipe', encoding: 'utf8' });
    told.nu = 'nothing';
  },
};

let failed = 0;
for (const [name, test] of Object.entries(tests)) {
  if (only && !name.includes(only)) continue;
  const from = Date.now();
  try {
    await test();
    if (wrong.length) throw new Error(wrong.splice(0).slice(0, 5).join('\n'));
    console.log(`ok      ${name} (${((Date.now() - from) / 1000).toFixed(1)} s)`);
  } catch (error) {
    failed += 1;
    console.log(`FAILED  ${name}\n${String(error.stderr || error.stack || error).slice(0, 3000)}`);
    wrong.length = 0;
  }
}
told['content policy, errors and requests that left'] = failed ? 'see above' : 'none';
for (const [what, words] of Object.entries(told)) console.log(`${what}: ${words}`);
await browser.close();
host.close();
rmSync(scratch, { recursive: true, force: true });
process.exit(failed ? 1 : 0);
