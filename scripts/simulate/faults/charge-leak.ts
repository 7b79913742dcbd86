import type { Random } from '../random.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';
import { longPulls } from './full-load.js';

/** Share of the rated flow that escapes at rated boost; what a workshop calls a leak worth finding begins at 8 %. */
const FOUND = 0.07;

/** air.charge-leak: a hose that lets metered air out under boost. */
export const chargeLeak: FaultFamily = {
  rule: 'air.charge-leak',
  levels: ['repair'],
  apply(draft, level, dial, random) {
    const share = level === 'under' ? 0.01 * dial : 0.08 + 0.1 * dial;
    draft.disturb.push((plant) => {
      plant.chargeLeak = share;
    });
    prepare(draft, random);
    return {
      rule: 'air.charge-leak',
      level,
      note: `${(100 * share).toFixed(1)} % of the rated flow`,
      dialled: { share },
    };
  },
  truth(sim: Simulation): TrueFinding {
    const share = sim.plant.chargeLeak;
    return { level: share >= FOUND ? 'repair' : 'none', measures: {}, margin: Math.abs(share - FOUND) };
  },
  decoys: {
    /** A dump valve to the outside, healthy: it blows off metered air whenever the driver lets go. */
    ventedDump(draft, random) {
      const share = random.range(0.25, 0.6);
      draft.disturb.push((plant) => {
        plant.ventedDump = share;
      });
      prepare(draft, random);
      insertWarm(draft.script, [
        { kind: 'tipIn', times: 8 },
        { kind: 'circuit', duration: 60 },
      ]);
    },
    /** A meter that reads high at high flow. */
    meterScale(draft, random) {
      const high = random.range(1.08, 1.18);
      draft.disturb.push((plant) => {
        plant.meterLow = 0.99;
        plant.meterHigh = high;
      });
      prepare(draft, random);
    },
    scavenging(draft, random) {
      draft.disturb.push((plant) => {
        plant.scavenging = random.range(0.05, 0.12);
      });
      prepare(draft, random);
    },
    /** A turbocharger that cannot make its boost any more: no leak. */
    tiredTurbo(draft, random) {
      const share = random.range(0.6, 0.8);
      draft.disturb.push((plant) => {
        plant.boostShare = share;
      });
      prepare(draft, random);
    },
    /** The charge temperature sits before the compressor. */
    blindTemperature(draft, random) {
      prepare(draft, random);
      draft.added.delete('chargeAirTemperature');
    },
    hotDay(draft, random) {
      draft.ambient = { ...draft.ambient, temperature: random.range(33, 41) };
      prepare(draft, random);
    },
  },
};

function prepare(draft: DriveDraft, random: Random): void {
  const kept = [
    'airMassFlow',
    'manifoldPressure',
    'boostPressure',
    'boostPressureTarget',
    'throttlePosition',
    'barometricPressure',
  ];
  for (const id of kept) draft.kept.add(id);
  draft.added.add('chargeAirTemperature');
  draft.added.add('wastegateDuty');
  draft.tuned.set('chargeAirTemperature', { refresh: 2 });
  atLeast(draft, random.pick([5, 10]));
  insertWarm(
    draft.script,
    [50, 70, 90].map((speed) => ({ kind: 'cruise', speed, duration: 25 }) as const),
  );
  longPulls(draft, random.range(2000, 2400));
}
