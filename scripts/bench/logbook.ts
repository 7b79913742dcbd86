// How fast the logbook is: drives added a second, and one car shown out of a hundred thousand drives.
// Usage: node scripts/run.mjs scripts/bench/logbook.ts [--cars N] [--drives N] [--runs N] [--book postgres://…]
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import type { StoredDrive } from '../../packages/cli/src/book/book.js';
import { openBook } from '../../packages/cli/src/book/open.js';
import { checkout } from '../kill/bundle.js';
import { seeded } from '../kill/random.js';

const { values } = parseArgs({
  options: {
    cars: { type: 'string', default: '1000' },
    drives: { type: 'string', default: '100' },
    runs: { type: 'string', default: '15' },
    book: { type: 'string' },
  },
});
const [cars, drives, runs] = [Number(values.cars), Number(values.drives), Number(values.runs)];
const random = seeded(1);

/** Measures of a real drive of the demo, in number; monthly, so that all of the trend has to be computed. */
const IDS = [
  ...['idle', 'cruise', 'load'].flatMap((regime) => [1, 2].map((bank) => `fuel.trim.${regime}.bank${bank}`)),
  'engine.oil-pressure.hotIdleReference',
  'electrical.charging.crank',
  'engine.cooling.level',
  'engine.cooling.timeConstant.oil',
  'engine.cooling.timeConstant.transmission',
  'engine.idle.swing',
  'engine.breathing.manifoldShare',
  'air.boost-control.spoolTime',
  'air.charge-cooling.effectiveness',
  'fuel.rail-pressure.rail.below',
  'transmission.over-temperature.aboveCoolant',
  'transmission.clutch-slip.slip',
  ...[1, 2, 3, 4, 5].map((gear) => `transmission.shift-quality.duration.${gear}-${gear + 1}`),
  'driveline.tyre-circumference.axle',
  'codes.monitor-results.least',
];

function made(car: number, n: number): StoredDrive {
  const month = n % 12;
  const summer = Math.sin((2 * Math.PI * month) / 12);
  return {
    hash: `${car.toString(16).padStart(32, '0')}${n.toString(16).padStart(32, '0')}`,
    car: `car ${car}`,
    recordedAt: `${2018 + Math.floor(n / 12)}-${String(month + 1).padStart(2, '0')}-${String(5 + Math.floor(20 * random())).padStart(2, '0')}T10:00:00`,
    distance: 30_000 + 1100 * n + 50 * random(),
    engineHours: null,
    measures: IDS.map((id, k) => ({
      id,
      value: 10 + k + 0.2 * summer + random() + random() - 1,
      standardError: 0.1 + 0.1 * random(),
      samples: 40,
      unit: '1',
    })).sort((a, b) => (a.id < b.id ? -1 : 1)),
    covariates: {
      ambientTemperature: 12 + 10 * summer + 3 * random(),
      load: 0.25 + 0.1 * random(),
      altitude: 200,
      fuel: 0.1,
    },
    summary: {
      level: 'watch',
      coverage: 0.7,
      index: { low: 60, high: 90 },
      findings: [],
      unproven: ['engine.misfire'],
    },
    provenance: { file: 'drive.csv', version: '0.1.0', addedAt: '2026-01-01T00:00:00' },
  };
}

const folder = mkdtempSync(join(tmpdir(), 'telltale-bench-'));
try {
  const place = values.book ?? join(folder, 'book.sqlite');
  const book = await openBook(place, 'create');
  // As `track add` writes: twenty a transaction, each synced to the disk. The making of the drives is not counted.
  let seconds = 0;
  let added = 0;
  const begin = Math.min(50, cars);
  for (let car = 0; car < cars; car++) {
    const batchSize = car < begin ? 20 : 500;
    const all = Array.from({ length: drives }, (_, n) => made(car, n));
    for (let i = 0; i < all.length; i += batchSize) {
      const batch = all.slice(i, i + batchSize);
      const from = performance.now();
      const fresh = await book.add(batch);
      if (fresh.length !== batch.length) throw new Error('a drive was not added');
      if (car >= begin) continue;
      seconds += (performance.now() - from) / 1000;
      added += batch.length;
    }
  }
  await book.close();
  console.log(
    `add: ${added} drives of ${IDS.length} measures in transactions of 20: ${Math.round(added / seconds)} a second`,
  );
  if (values.book === undefined)
    console.log(`book: ${cars * drives} drives, ${Math.round(statSync(place).size / 1e6)} MB`);

  const main = join(checkout(import.meta.url), 'packages', 'cli', 'bin', 'telltale.js');
  // Processor time, which other work on the machine moves less; told by the process itself as it ends.
  const tell =
    'data:text/javascript,process.on("exit",()=>{const{user,system}=process.cpuUsage();process.stderr.write("\\ncpu "+(user+system)/1000)})';
  const timed = (...args: string[]): number => {
    const { stdout, stderr } = spawnSync(process.execPath, ['--import', tell, main, ...args], {
      encoding: 'utf8',
      maxBuffer: 1e8,
    });
    const told = /cpu ([\d.]+)$/.exec(stderr)?.[1];
    if (stdout.length === 0 || told === undefined) throw new Error(`${args.join(' ')} said nothing: ${stderr}`);
    return Number(told);
  };
  const middle = (all: readonly number[]): number => [...all].sort((a, b) => a - b)[Math.floor(all.length / 2)]!;
  const round = Math.round;
  const shown = Array.from({ length: runs }, () => `car ${Math.floor(random() * cars)}`);
  timed('track', 'show', '--car', 'car 0', '--book', place);
  const start = middle(shown.map(() => timed('rules', 'engine.knock')));
  // The first time the trend is computed, as `track add` does when it has added; then it is kept with the car.
  const anew = middle(shown.map((car) => timed('track', 'show', '--car', car, '--book', place)));
  const kept = middle(shown.map((car) => timed('track', 'show', '--car', car, '--book', place)));
  console.log(
    `start-up (telltale rules engine.knock): ${round(start)} ms of processor time; medians of ${runs} cars of ${drives} drives`,
  );
  console.log(`track show, as after track add: ${round(kept)} ms, ${round(kept - start)} ms beyond start-up`);
  console.log(`track show, trend computed anew: ${round(anew)} ms, ${round(anew - start)} ms beyond start-up`);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
