// Finds the alarm level of the logbook's trends: the evidence that one in twenty ownerships without any drift exceeds at
// any of its looks, in any of its measures. Half of them scatter independently, half with an autocorrelation of 0.3.
// Families smaller than 20 are drawn from the 20 in turn, those judged one way only, so that work starts as many of them anew.
// Usage: node scripts/run.mjs scripts/ownership/levels.ts [--runs N] [--seed S] [--measures M]
import { parseArgs } from 'node:util';
import { datedEntries, datedNotes, looksOf } from '../../packages/core/src/logbook/trend/looks.js';
import { directionsOf, follow } from '../../packages/core/src/logbook/trend/sequence.js';
import { type Series, seriesOf } from '../../packages/core/src/logbook/trend/series.js';
import { ownershipOf } from './ownership.js';

const { values } = parseArgs({
  options: {
    runs: { type: 'string', default: '1000' },
    seed: { type: 'string', default: '900001' },
    measures: { type: 'string', default: '1,2,4,8,20,40' },
  },
});
const runs = Number(values.runs);
/** Evidence below this and 1 is not followed: no family's level lies there. */
const FLOOR = 1.5;

/** So many of the measures that are judged one way only, others each time. */
function inTurn(all: readonly Series[], count: number, turn: number): Series[] {
  const single = all.filter((each) => directionsOf(each).length === 1);
  return Array.from({ length: count }, (_, k) => single[(turn * count + k) % single.length]!);
}

for (const measures of values.measures.split(',').map(Number)) {
  const peaks: [number, number][] = [];
  let tests = 0;
  for (let k = 0; k < runs; k++) {
    const rho = k % 2 === 0 ? 0 : 0.3;
    const owned = ownershipOf({ seed: Number(values.seed) + k, measures: Math.max(measures, 20), drives: 36, rho });
    const notes = datedNotes(owned.notes);
    const looks = looksOf(datedEntries(owned.entries).dated, notes);
    const { series: whole } = seriesOf(looks, notes, owned.measures);
    const series = measures < 20 ? inTurn(whole, measures, k >> 1) : whole;
    tests = series.reduce((sum, each) => sum + directionsOf(each).length, 0);
    let peak = 0;
    follow(
      looks,
      series,
      () => FLOOR + Math.log(measures) * 0.6 + 1,
      (confirmed) => {
        peak = Math.max(peak, confirmed);
      },
    );
    peaks.push([rho, peak]);
  }
  const level = (of: readonly [number, number][], share: number): string =>
    of
      .map(([, peak]) => peak)
      .sort((a, b) => b - a)
      [Math.floor(of.length * share)]!.toFixed(3);
  const white = peaks.filter(([rho]) => rho === 0);
  const red = peaks.filter(([rho]) => rho > 0);
  console.log(
    `${measures} measures, ${tests} tests, ${runs} runs: 5 % exceed ${level(peaks, 0.05)} (independent ${level(white, 0.05)}, autocorrelation 0.3 ${level(red, 0.05)}; 4 % ${level(peaks, 0.04)}, 4.5 % ${level(peaks, 0.045)}, 6 % ${level(peaks, 0.06)})`,
  );
}
