// How often the logbook's trends find a drift of known size, cry wolf, and hold the true crossing of a limit.
// Usage: node scripts/run.mjs scripts/ownership/main.ts [--runs N] [--seed S] [--only ID] [--harder N] [--markdown FILE]
import { readFileSync, writeFileSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { wilsonInterval } from '@telltale/core';
import { ASKED, HARDER, tally } from './score.js';

const { values } = parseArgs({
  options: {
    runs: { type: 'string', default: '500' },
    harder: { type: 'string', default: '100' },
    seed: { type: 'string', default: '1' },
    only: { type: 'string' },
    markdown: { type: 'string' },
  },
});
const [runs, harder, seed] = [Number(values.runs), Number(values.harder), Number(values.seed)];
if (![runs, harder, seed].every(Number.isInteger) || runs < 1 || harder < 0)
  throw new Error('expected --runs N --harder N --seed S, whole numbers');

const percent = (count: number, of: number): string => {
  const { low, high } = wilsonInterval(count, of);
  return `${((100 * count) / of).toFixed(1)} % (${(100 * low).toFixed(1)} to ${(100 * high).toFixed(1)} %)`;
};
const middle = (all: readonly number[]): string =>
  all.length === 0 ? '-' : String([...all].sort((a, b) => a - b)[Math.floor(all.length / 2)]);

const rows: string[] = [];
const add = (what: string, count: number, of: number, wanted = '', month = ''): void => {
  rows.push(`| ${what} | ${count} of ${of} | ${percent(count, of)} | ${wanted} | ${month} |`);
  console.log(rows.at(-1));
};
for (const [list, count] of [
  [ASKED, runs],
  [HARDER, harder],
] as const)
  for (const scenario of list) {
    if (count === 0 || (values.only !== undefined && values.only !== scenario.id)) continue;
    const { hits, months, crossing, slope } = tally(scenario, count, seed);
    if (scenario.counts === 'false') {
      add(`false alarm: ${scenario.what}`, hits, count, scenario.asked);
      continue;
    }
    add(`found: ${scenario.what}`, hits, count, scenario.asked, middle(months));
    if (list !== ASKED) continue;
    const { told, distance, date, bounded } = crossing;
    add('its true crossing inside the 95 % interval, distance', distance, told, '90 to 98 %');
    add('the same, date', date, told, '90 to 98 %');
    add('such intervals with an end', bounded, told);
    add('its true slope inside the 95 % interval', slope.held, slope.told);
  }
if (values.markdown !== undefined) {
  const [begin, end] = ['<!-- bench:ownership begin -->', '<!-- bench:ownership end -->'];
  const text = readFileSync(values.markdown, 'utf8');
  const [from, to] = [text.indexOf(begin), text.indexOf(end)];
  if (from < 0 || to < from) throw new Error(`${values.markdown} has no ${begin} … ${end}`);
  const table = [
    `Made by \`npm run bench:ownership -- --runs ${runs} --harder ${harder} --seed ${seed}\`.`,
    '',
    '| what | count | share (95 % interval) | asked | median month found |',
    '| --- | ---: | --- | --- | ---: |',
    ...rows,
  ].join('\n');
  writeFileSync(values.markdown, `${text.slice(0, from)}${begin}\n${table}\n${text.slice(to)}`);
}
