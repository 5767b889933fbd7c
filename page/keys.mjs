// The keys of the bench file for the forms, read from the tables of docs/bench-file.md: what is told there is what is asked here,
// and a test of the library holds that page to every key that it takes.

/** `Ca = 75` and `made_of = { boric-acid = "3.5 g" }`: what an example is set to, as JSON has it. */
function value(text) {
  const json = text.replace(/([{,] *)([\w-]+) = /g, '$1"$2": ').replace(/^\d{4}-\d\d-\d\d$/, '"$&"');
  return JSON.parse(json);
}

const cells = (line) => line.split('|').slice(1, -1).map((cell) => cell.trim());
const names = (cell) => [...cell.matchAll(/`([^`]+)`/g)].map(([, name]) => name);
/** Words for a page: no marks, no links, no underscores. */
const plain = (text) => text.replace(/\[([^\]]*)\]\([^)]*\)/g, '$1').replace(/`([^`]*)`/g, (_, words) => words.replaceAll('_', ' ').replace(/["[\]]/g, ''));
/** What a key means, in one sentence and without the options of the terminal. */
const sentence = (text) => plain(text).split('. ')[0].split('; ').filter((words) => !words.includes('--')).join('; ').replace(/^[a-z](?!g\/|pm )/, (letter) => letter.toUpperCase());

/** One table: its rows as `{ keys, means, unit, must, options, example }`. */
function table(lines) {
  const head = cells(lines[0]);
  return lines.slice(2).map(cells).map((row) => {
    const of = (column) => row[head.indexOf(column)] ?? '';
    const examples = names(of('example')).map((example) => value(example.replace(/^\S+ = /, '')));
    const otherwise = of('default');
    const said = names(`${of('means')} ${of('range')}`).filter((word) => /^"[A-Za-z]+"$/.test(word)).map((word) => JSON.parse(word));
    return {
      keys: names(row[0]),
      means: sentence(of('means')) + (otherwise && otherwise !== 'must be given' ? `; otherwise ${plain(otherwise)}` : ''),
      unit: / (ppm|%)\b/.exec(of('range'))?.[1],
      must: otherwise === 'must be given' || undefined,
      options: said.length && examples.every((example) => !Array.isArray(example)) ? said : undefined,
      list: examples.some(Array.isArray) || undefined,
      example: examples[0],
    };
  });
}

/** Every section, in the order of the page: `{ name, kind, means, rows, more }`; `kind` is `root`, `one`, `list` or `map`. */
export function keys(page) {
  const sections = [];
  for (const part of page.split(/^## /m)) {
    const title = /^`(\[\[?)(\w+)(\.NAME)?\]/.exec(part);
    const tables = [...part.matchAll(/^\| (key[^\n]*)(?:\n\|[^\n]*)+/gm)];
    if (!tables.length) continue;
    const section = { name: title?.[2] ?? '', kind: !title ? 'root' : title[3] ? 'map' : title[1] === '[' ? 'one' : 'list', rows: [] };
    const words = title ? part.split('\n\n').slice(1).find((text) => /^[A-Z]/.test(text)) ?? '' : '';
    section.means = plain(words.replaceAll('\n', ' ')).split(/[.:;](?: |$)/)[0] || undefined;
    for (const [text] of tables) {
      const lines = text.split('\n');
      const head = cells(lines[0])[0];
      const rows = table(lines);
      if (head === 'key' && !section.rows.length) section.rows = rows;
      else if (head === 'key') section.more = rows; // what only one of several has
      else if (head === 'key of a salt') Object.assign(section, { kind: 'map', rows });
      else {
        const of = section.rows.filter((row) => names(head).some((name) => row.keys.includes(name)));
        if (!of.length) throw new Error(`docs/bench-file.md: "${head}" is of no key`);
        for (const row of of) row.inner = inner(row, rows, section.rows);
      }
    }
    sections.push(section);
  }
  return sections;
}

/** Keys inside a key: those without an example of their own are like that of the section, or like what stands beside them. */
function inner(row, rows, section) {
  const shown = typeof row.example === 'object' ? row.example : {};
  return rows.map((one) => {
    const key = one.keys[0];
    const example = shown[key] ?? section.find((other) => other.keys[0] === key)?.example ?? Object.values(shown)[0];
    return { ...one, example };
  });
}
