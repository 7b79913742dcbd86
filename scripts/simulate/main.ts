import { mkdirSync, writeFileSync } from 'node:fs';
import { dirname } from 'node:path';
import { parseArgs } from 'node:util';
import { memoryFiles, Random, record, SCENARIOS, simulate, toCsv } from './index.js';

/** Writes a named scenario: FILE.csv, and beside it the profile, what its control units remember, and the truth. */
function main(): void {
  const { values } = parseArgs({
    options: {
      scenario: { type: 'string', default: 'demo' },
      seed: { type: 'string', default: '1' },
      out: { type: 'string' },
    },
  });
  const make = SCENARIOS[values.scenario];
  if (!make) throw new Error(`--scenario ${values.scenario}: expected one of ${Object.keys(SCENARIOS).join(', ')}`);
  if (values.out === undefined || !values.out.endsWith('.csv'))
    throw new Error('--out: expected a file name that ends in .csv');
  const seed = Number(values.seed);
  if (!Number.isInteger(seed)) throw new Error(`--seed ${values.seed}: expected a whole number`);
  const scenario = make(seed);
  const sim = simulate(scenario.drive);
  const file = toCsv(record(sim, scenario.record), scenario.dialect);
  mkdirSync(dirname(values.out), { recursive: true });
  writeFileSync(values.out, file.bytes);
  const stem = values.out.slice(0, -4);
  writeFileSync(`${stem}.vehicle.yaml`, scenario.profile);
  const read = memoryFiles(sim.plant.memory, new Random(seed, 35), sim.car.engine.revLimit);
  writeFileSync(`${stem}.stored.csv`, read.stored);
  writeFileSync(`${stem}.codes.csv`, read.codes);
  const truth = {
    about: scenario.about,
    scenario: values.scenario,
    seed,
    rows: file.rows,
    columns: file.columns,
    truth: sim.truth,
  };
  const round = (_: string, v: unknown) =>
    typeof v === 'number' && !Number.isInteger(v) ? Number(v.toPrecision(6)) : v;
  writeFileSync(`${stem}.expected.json`, `${JSON.stringify(truth, round, 1)}\n`);
  console.log(
    `${values.out}: ${file.rows} rows, ${file.columns.length} channels, ${(file.bytes.length / 1e6).toFixed(2)} MB, ${sim.truth.duration.toFixed(1)} s`,
  );
}

main();
