// What the logbook is asked to follow, and that it arrives there from a drive that has it: simulated, written as a log, read
// back through the library.
import { assess, type Drive, type LogbookEntry, logbookEntry, readProfile } from '@telltale/core';
import { beforeAll, expect, it } from 'vitest';
import { trackedRow } from '../../packages/core/src/logbook/tracked.js';
import { TRACKED_ROWS } from '../../packages/core/src/logbook/tracked-rows.js';
import { drawDrive, memoryFiles, Random, record, simulate, toCsv } from '../simulate/index.js';
import type { Phase } from '../simulate/script.js';

/** What an owner is promised, the measure that it is, and the phase of the drive that shows it. */
const PROMISED: readonly (readonly [what: string, id: string, shownBy: string])[] = [
  ['trim at idle', 'fuel.trim.idle.bank1', 'hotIdle'],
  ['trim at idle, other bank', 'fuel.trim.idle.bank2', 'hotIdle'],
  ['trim at cruise', 'fuel.trim.cruise.bank1', 'cruise'],
  ['oil pressure at hot idle and one temperature', 'engine.oil-pressure.hotIdleReference', 'hotIdle'],
  ['plateau while cranking', 'electrical.charging.crank', 'coldStart'],
  ['warm-up constant of the coolant', 'engine.cooling.timeConstant.coolant', 'coldStart'],
  ['warm-up constant of the oil', 'engine.cooling.timeConstant.oil', 'coldStart'],
  ['warm-up constant of the transmission fluid', 'engine.cooling.timeConstant.transmission', 'coldStart'],
  ['coolant equilibrium', 'engine.cooling.level', 'motorway'],
  ['fluid minus coolant', 'transmission.over-temperature.aboveCoolant', 'steady motorway'],
  ['actuator duty with boost settled', 'air.turbo-health.settledDuty', 'pull'],
  ['engine speed at which boost is there', 'air.boost-control.spoolSpeed', 'pull'],
  ['effectiveness of the charge cooler', 'air.charge-cooling.effectiveness', 'pull'],
  ['rail pressure missing', 'fuel.rail-pressure.rail.below', 'pull'],
  ['rail pressure in excess', 'fuel.rail-pressure.rail.above', 'pull'],
  ['shift time of a pair', 'transmission.shift-quality.duration.2-3', 'gentleGears'],
  ['shift time of another pair', 'transmission.shift-quality.duration.3-4', 'gentleGears'],
  ['slip at torque', 'transmission.clutch-slip.slip', 'pull'],
  ['touch point of clutch 1', 'transmission.clutch-adaptation.clutchTouchPoint.clutch1', 'read out along'],
  ['touch point of clutch 2', 'transmission.clutch-adaptation.clutchTouchPoint.clutch2', 'read out along'],
  ['cam offset', 'engine.cam-timing.offset', 'hotIdle'],
  ['coast-down', 'driveline.wheel-speed.coastDown', 'coast in neutral'],
  ['margin of a monitor', 'codes.monitor-results.margin.purge-flow-test', 'stored values'],
];

/** Followed measures that this drive cannot show, and why. */
const ELSEWHERE: Readonly<Record<string, string>> = {
  'engine.oil-pressure.hotIdle': 'kept only where the oil temperature is not recorded',
  'codes.monitor-results.least': 'kept only where no test has a name',
  'fuel.injector-duty.duty': 'of port injection; this engine injects directly',
  'exhaust.particulate-filter.ash': 'a control unit that counts ash; the simulator has none',
  'transmission.judder.amplitude': 'takes an input shaft speed of 40 rows a second',
  'transmission.clutch-adaptation.clutchTouchPointTravel.*':
    'of clutches that are told by travel; these are told by pressure',
};

let entry: LogbookEntry;
beforeAll(async () => {
  const drawn = drawDrive({ seed: 1, kind: 'thorough', car: 'demo-saloon', plain: true, rate: 10 });
  const cruise = (speed: number, duration: number): Phase => ({ kind: 'cruise', speed, duration });
  const coast: Phase[] = [cruise(85, 8), { kind: 'coast', to: 40, neutral: true }, cruise(50, 5)];
  const script = [...drawn.spec.script];
  script.splice(-1, 0, cruise(110, 500), ...Array.from({ length: 4 }, () => coast).flat());
  const sim = simulate({ ...drawn.spec, script });
  const channels = [...drawn.record.channels, ...[1, 2].map((k) => ({ id: `clutchAdaptation.clutch${k}` }))];
  const { bytes } = toCsv(record(sim, { ...drawn.record, channels }), drawn.dialect);
  const { stored, codes } = memoryFiles(sim.plant.memory, new Random(1, 32), sim.car.engine.revLimit);
  const profile = readProfile(drawn.profile, 'profile');
  if (!profile.ok) throw new Error('the profile is not understood');
  const utf8 = new TextEncoder();
  const drives: Drive[] = [];
  const assessment = await assess(
    [
      { name: 'drive.csv', source: bytes },
      { name: 'stored.csv', source: utf8.encode(stored) },
      { name: 'codes.txt', source: utf8.encode(codes) },
    ],
    { vehicle: profile.value, onDrive: (drive) => void drives.push(drive) },
  );
  entry = logbookEntry(assessment, drives, { hash: '0'.repeat(64), car: 'demo', recordedAt: '2026-03-01' });
}, 120_000);

it.each(PROMISED)('%s: %s arrives, by %s', (_, id) => {
  const measure = entry.measures.find((each) => each.id === id);
  expect(Number.isFinite(measure?.value)).toBe(true);
});

it('follows nothing else that no drive could bring, but for what is named here', () => {
  const arrived = new Set(
    entry.measures.map(({ id }) => {
      const of = TRACKED_ROWS.find(({ rule }) => id.startsWith(`${rule}.`))!.rule;
      const { row } = trackedRow(of, id.slice(of.length + 1))!;
      return `${row.rule}.${row.measure}`;
    }),
  );
  const missing = TRACKED_ROWS.map(({ rule, measure }) => `${rule}.${measure}`).filter((row) => !arrived.has(row));
  expect(missing.sort()).toEqual(Object.keys(ELSEWHERE).sort());
});

it('knows how far the car has gone, and what moves its measures', () => {
  expect(entry.distance).toBeGreaterThan(0);
  expect(entry.covariates.ambientTemperature).not.toBeNull();
  expect(entry.covariates.load).not.toBeNull();
});
