// What the tests share: looking at the page, and the steps that many take.

export const SCREENS = ['now', 'mix', 'read', 'top-up', 'switch', 'check', 'forecast', 'scale', 'stock', 'salts', 'salts/iron-dtpa', 'trade', 'plan', 'logbook', 'bench', 'bench/text', 'bench/part/tank', 'bench/part/water', 'bench/part/shelf', 'bench/part/product', 'bench/part/formula', 'bench/part/cycle', 'first', 'keep', 'more'];

/** What the library answered last on a job's screen. */
export const shown = (page) => page.locator('.result .sheet');
/** Until an answer is there. */
export async function settled(page) {
  await page.waitForFunction(() => document.querySelector('.result')?.children.length > 0 && !document.querySelector('.state button'));
}
/** What the database has under a key. */
export const kept = (page, key) => page.evaluate((name) => new Promise((resolve, reject) => {
  const open = indexedDB.open('bloomsalt', 1);
  open.onerror = () => reject(open.error);
  open.onsuccess = () => {
    const get = open.result.transaction('texts').objectStore('texts').get(name);
    get.onsuccess = () => { open.result.close(); resolve(get.result); };
  };
}), key);
/** Amounts and names, as they are shown. */
export const weights = (page) => page.evaluate(() => [...document.querySelector('.result .sheet').shadowRoot.querySelectorAll('.weights tbody tr')].map((row) => `${(row.querySelector('.amount')?.textContent ?? '').replaceAll(/\s+/g, ' ').trim()} ${row.querySelector('label')?.textContent ?? ''}`));

/** Opens a screen. */
export const opens = (host) => async (page, screen) => {
  await page.goto(`${host.url}#${screen}`);
  await page.locator(`#screen[data-shown="#${screen}"] h1`).first().waitFor();
};
/** Enters a reading. */
export const read = async (page, ec, ph) => {
  await page.getByLabel('EC', { exact: true }).fill(ec);
  if (ph) await page.getByLabel('pH', { exact: true }).fill(ph);
  await page.getByRole('button', { name: 'Keep and explain' }).click();
};
