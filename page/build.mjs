// Puts the page together: bundles the scripts, writes the folder with its service worker, and the one file with everything
// inside. node page/build.mjs MODULE.wasm FOLDER TOOLS

import { createHash } from 'node:crypto';
import { mkdirSync, readFileSync, rmSync, writeFileSync, copyFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { brotliCompressSync, constants, gzipSync } from 'node:zlib';
import { keys } from './keys.mjs';

const [module, out, tools] = process.argv.slice(2);
const here = dirname(fileURLToPath(import.meta.url));
const esbuild = createRequire(join(tools, 'package.json'))('esbuild');

const define = { BENCH_KEYS: JSON.stringify(keys(readFileSync(join(here, '../docs/bench-file.md'), 'utf8'))) };
const bundle = (file) => {
  const made = esbuild.buildSync({ entryPoints: [join(here, 'js', file)], bundle: true, minify: true, format: 'iife', target: 'es2022', charset: 'utf8', write: false, define, nodePaths: [join(tools, 'node_modules')] });
  return made.outputFiles[0].text;
};
const page = bundle('main.js');
const worker = bundle('worker.js');
const style = esbuild.transformSync(readFileSync(join(here, 'static/style.css'), 'utf8'), { loader: 'css', minify: true, charset: 'utf8' }).code;
const bytes = readFileSync(module);

rmSync(out, { recursive: true, force: true });
mkdirSync(out, { recursive: true });
for (const file of ['index.html', 'manifest.webmanifest', 'icon.svg']) copyFileSync(join(here, 'static', file), join(out, file));
writeFileSync(join(out, 'page.js'), page);
writeFileSync(join(out, 'worker.js'), worker);
writeFileSync(join(out, 'style.css'), style);
writeFileSync(join(out, 'bloomsalt.wasm'), bytes);
const index = readFileSync(join(here, 'static/index.html'), 'utf8');
const version = createHash('sha256').update([page, worker, style, index].join('\0')).update(bytes).digest('hex').slice(0, 16);
writeFileSync(join(out, 'sw.js'), readFileSync(join(here, 'static/sw.js'), 'utf8').replace('VERSION', version));

// the one file: scripts and styles stand in it and are known by their hash, the module is an inert block of text
const hash = (text) => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;
const inScript = (text) => text.replaceAll('</script', '<\\/script').replaceAll('<!--', '<\\!--');
const icon = `data:image/svg+xml;base64,${readFileSync(join(here, 'static/icon.svg')).toString('base64')}`;
const script = inScript(page);
const policy = `default-src 'none'; script-src ${hash(script)} 'wasm-unsafe-eval'; style-src ${hash(style)}; img-src 'self' data:; manifest-src 'self'; worker-src blob:; base-uri 'none'; form-action 'none'`;
const replaced = (text, from, to) => {
  if (!text.includes(from)) throw new Error(`index.html lacks ${from}`);
  return text.replace(from, () => to);
};
let one = index;
one = one.replace(/(http-equiv="Content-Security-Policy" content=")[^"]*/, (_, before) => before + policy);
one = replaced(one, '<link rel="icon" href="icon.svg" type="image/svg+xml">', `<link rel="icon" href="${icon}" type="image/svg+xml">`);
one = replaced(one, '<link rel="manifest" href="manifest.webmanifest">\n', '');
one = replaced(one, '<link rel="stylesheet" href="style.css">', `<style>${style}</style>`);
one = replaced(one, '<script src="page.js" defer></script>\n', '');
const blocks = `<script type="text/plain" id="worker-code">${inScript(worker)}</script>\n<script type="text/plain" id="module-bytes">${gzipSync(bytes, { level: 9 }).toString('base64')}</script>\n<script>${script}</script>\n`;
one = replaced(one, '</body>', `${blocks}</body>`);
writeFileSync(join(out, 'bloomsalt.html'), one);

const brotli = (data) => brotliCompressSync(data, { params: { [constants.BROTLI_PARAM_QUALITY]: 11, [constants.BROTLI_PARAM_SIZE_HINT]: data.length, [constants.BROTLI_PARAM_LGWIN]: 24 } }).length;
const parts = { 'bloomsalt.wasm': bytes, 'page.js': Buffer.from(page), 'worker.js': Buffer.from(worker), 'style.css': Buffer.from(style), 'index.html': Buffer.from(index) };
let [raw, zipped, wire] = [0, 0, 0];
for (const [name, data] of Object.entries(parts)) {
  const sizes = [data.length, gzipSync(data, { level: 9 }).length, brotli(data)];
  raw += sizes[0]; zipped += sizes[1]; wire += sizes[2];
  console.log(`${name.padEnd(16)} ${sizes.map((size) => String(size).padStart(9)).join('')}`);
}
console.log(`${'all'.padEnd(16)} ${[raw, zipped, wire].map((size) => String(size).padStart(9)).join('')}  bytes as they are, gzip, brotli`);
console.log(`bloomsalt.html   ${String(one.length).padStart(9)}`);
