// The page: which screen is shown, what is said above it, and what keeps the screen awake.

import { el } from './dom.js';
import { warm } from './engine.js';
import * as store from './store.js';
import { home, more } from './screens/home.js';
import { jobScreen } from './screens/job.js';
import { all } from './screens/jobs.js';
import { logbook, read } from './screens/logbook.js';
import { salts } from './screens/salts.js';
import { first } from './screens/first.js';
import { benchFile } from './screens/bench.js';
import { keepScreen, persistent } from './screens/keep.js';

const DAY_MS = 86_400_000;
const screens = { '': home, now: home, read, logbook, salts, first, bench: benchFile, keep: keepScreen, more };
const tabs = [['now', 'Now'], ['mix', 'Mix'], ['read', 'Meter'], ['logbook', 'Logbook'], ['more', 'All jobs']];

const place = document.getElementById('screen');
const bars = document.getElementById('bars');
const nav = document.getElementById('tabs');

let weighingNow = false;
let lock = null;
async function awake() {
  if (!weighingNow || document.visibilityState !== 'visible' || !navigator.wakeLock) return;
  try {
    lock ??= await navigator.wakeLock.request('screen');
    lock.addEventListener('release', () => { lock = null; });
  } catch {
    lock = null; // the battery is low, or the browser does not want to
  }
}
/** While boxes are left to tick the screen stays on; once the first is ticked, no update takes over. */
function weighing(left, of) {
  weighingNow = left > 0;
  if (weighingNow) awake();
  else lock?.release();
  document.body.dataset.weighing = String(left > 0 && left < of);
}
document.addEventListener('visibilitychange', awake);

let drawn = 0;
/** True while what is typed, on its way into the logbook or just told as kept stands on the screen. */
const inUse = () => document.activeElement?.matches('input, textarea, select') || place.querySelector('form[data-touched], .kept') !== null;

/** Draws the screen of the address. `gently`: anew, but not over what is in use there, nor over what came into use meanwhile. */
async function draw({ gently = false } = {}) {
  const here = location.hash;
  const spared = () => gently && place.dataset.shown === here && inUse();
  if (spared()) return;
  const [name, rest] = decodeURIComponent(location.hash.slice(1)).split(/\/(.*)/s);
  const mine = ++drawn;
  weighing(0, 0);
  const links = tabs.map(([to, words]) => el('a', { href: `#${to}`, 'aria-current': to === (name || 'now') ? 'page' : undefined }, words));
  nav.replaceChildren(...links);
  let node;
  try {
    if (Object.hasOwn(all, name)) node = await jobScreen(all[name], { weighing });
    else if (name === 'salts' || name === 'bench') node = await screens[name](rest);
    else node = await (Object.hasOwn(screens, name) ? screens[name] : home)({ weighing });
  } catch (error) {
    node = el('div', {}, el('h1', {}, 'This did not work'), el('p', {}, String(error?.message ?? error)), el('a', { class: 'button', href: '#now' }, 'Back'));
  }
  if (mine !== drawn || spared()) return;
  place.replaceChildren(node);
  place.dataset.shown = here;
  document.title = `${node.querySelector('h1')?.textContent ?? 'Now'} · Bloomsalt`;
  if (drawn > 1) {
    window.scrollTo(0, 0);
    place.focus({ preventScroll: true });
  }
}

function bar(id, words, ...more) {
  if (document.getElementById(id)) return;
  const node = el('div', { class: 'bar', id, role: 'status' }, el('p', {}, words), more, el('button', { type: 'button', class: 'quiet', onclick: () => node.remove() }, 'Not now'));
  bars.append(node);
}

async function warnings() {
  if (!(await store.keeps().catch(() => false))) bar('keeps-nothing', 'This browser keeps nothing for this page: what you enter is gone when it is closed. Open it from an https address, or save copies.');
  const copy = await store.get('copy');
  if (copy && copy.entries > 0 && (copy.entries >= 10 || Date.now() - copy.since > 7 * DAY_MS)) {
    bar('copy-due', `${copy.entries} entries since the last copy.`, el('a', { class: 'button', href: '#keep' }, 'Save a copy'));
    if ((await persistent()) === false) await persistent(true);
  }
}

async function serve() {
  if (!('serviceWorker' in navigator) || !location.protocol.startsWith('http') || document.getElementById('worker-code')) return;
  const registration = await navigator.serviceWorker.register('sw.js');
  const offer = () => {
    const next = registration.waiting;
    if (!next || !navigator.serviceWorker.controller) return;
    bar('update', 'A newer version is here.', el('button', { type: 'button', onclick: () => {
      if (document.body.dataset.weighing === 'true') return;
      navigator.serviceWorker.addEventListener('controllerchange', () => location.reload(), { once: true });
      next.postMessage('take over');
    } }, 'Use it (not while weighing)'));
  };
  registration.addEventListener('updatefound', () => registration.installing?.addEventListener('statechange', offer));
  offer();
}

window.addEventListener('hashchange', () => draw());
// a form that is drawn anew takes what another tab has half typed, so none is drawn over words of this one
store.changed((key) => (['bench', 'recipes'].includes(key) || key.startsWith('logbook:')) && draw({ gently: true }));
document.getElementById('unscripted')?.remove();
warm();
draw();
warnings().catch(() => {});
serve().catch(() => {});
