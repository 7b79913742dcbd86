import { wilsonInterval } from '@telltale/core';
import type { Score, Share } from './score.js';

/** The score as markdown, for the terminal and for the page in docs. */
export function tables(score: Score): string {
  const { drives } = score;
  const lines = [
    `${drives.fault} drives with faults, ${drives.healthy} healthy drives, ${drives.decoy} drives with a decoy, ${drives.unusable} unreadable.`,
    'Each share stands with its 95 % Wilson interval.',
    '',
    '**Faults found**, by what the drive really held. "Near" = within twice the uncertainty of measurement of a limit.',
    '',
    '| rule | true level | faults | found | right level | not shown |',
    '| --- | --- | ---: | --- | --- | --- |',
    ...score.levels.map(
      (row) =>
        `| ${row.rule} | ${row.level} | ${row.injected} | ${rate(row.found)} | ${row.level === 'near' ? '' : rate(row.graded)} | ${rate(row.unproven)} |`,
    ),
    '',
    `**Healthy drives with any false finding**, over the whole catalogue: ${score.healthyFalse.hits} of ${score.healthyFalse.of}, ${rate(score.healthyFalse)}.`,
    '',
    '| rule | false findings | not shown |',
    '| --- | --- | --- |',
    ...score.rules.map(
      (row) => `| ${row.rule} | ${row.false.hits} of ${row.false.of}, ${rate(row.false)} | ${rate(row.unproven)} |`,
    ),
    '',
    '**Error of the measured quantity** against the truth',
    '',
    '| rule | measure | drives | median | 95 % within |',
    '| --- | --- | ---: | ---: | ---: |',
    ...score.rules.flatMap((row) =>
      row.errors.map(
        (error) => `| ${row.rule} | ${error.measure} | ${error.n} | ${short(error.median)} | ${short(error.p95)} |`,
      ),
    ),
    '',
    ...score.rules.flatMap(({ rule, timed }) =>
      timed === undefined
        ? []
        : [
            `**Shift durations** (${rule}) off by no more than one sample interval and 10 ms: ${timed.hits} of ${timed.of}, ${rate(timed)}.`,
            '',
          ],
    ),
    '**Across the lowest limit**: share of drives with a finding, by distance from the limit in borders (twice the uncertainty)',
    '',
    '| rule | distance | found |',
    '| --- | --- | --- |',
    ...score.rise.map(
      (row) => `| ${row.rule} | ${row.at} | ${row.found.hits} of ${row.found.of}, ${rate(row.found)} |`,
    ),
    '',
    '**Decoys**: drives with any false finding',
    '',
    '| decoy | false |',
    '| --- | --- |',
    ...score.decoys.map((row) => `| ${row.decoy} | ${row.false.hits} of ${row.false.of} |`),
    '',
  ];
  if (score.misses.length > 0) {
    lines.push(
      '**Worst misses**, furthest from a limit first',
      '',
      '| what | rule | seed | answer |',
      '| --- | --- | ---: | --- |',
    );
    lines.push(
      ...score.misses
        .slice(0, 15)
        .map((miss) => `| ${miss.what} | ${miss.rule} | ${miss.seed} | ${miss.answer.replaceAll('|', '/')} |`),
      '',
    );
  }
  return lines.join('\n');
}

function rate({ hits, of }: Share): string {
  if (of === 0) return '–';
  const { low, high } = wilsonInterval(hits, of);
  return `${percent(hits / of)} (${percent(low)} to ${percent(high)})`;
}

function percent(value: number): string {
  return `${(100 * value).toFixed(1)} %`;
}

function short(value: number): string {
  return Number(value.toPrecision(3)).toString();
}
