import type { CarSpec } from '../car.js';
import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, type Level, nearest, type TrueFinding } from './fault.js';
import { onlyStored, storePeak, withStored } from './stored-peaks.js';

/** Limits as dialled (rules.md): sump of a dual clutch or converter; a manual box is dialled like a dual clutch. */
function sumpLimits(car: CarSpec): Record<Level, number> {
  return car.transmission.kind === 'converter'
    ? { watch: 120, repair: 130, stop: 145 }
    : { watch: 115, repair: 125, stop: 140 };
}

/** A phase in which the fluid is led to a peak; the tag is its number in the script so far. */
function hot(
  script: readonly Phase[],
  peak: number,
  dwell: number,
  rise: number,
  base: Phase,
): { phase: Phase; overheat: { tag: string; peak: number; dwell: number; rise: number; where: 'fluid' } } {
  const tag = `heat-${script.length}`;
  return { phase: { ...base, tag }, overheat: { tag, peak, dwell, rise, where: 'fluid' } };
}

/** transmission.over-temperature: cooling is lost while the car works hard; the fluid climbs to a dialled peak. */
export const overTemperature: FaultFamily = {
  rule: 'transmission.over-temperature',
  suits: (car) => car.transmission.kind !== 'manual',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const stored = onlyStored('transmission.over-temperature', level, dial);
    if (stored !== undefined)
      return {
        rule: this.rule,
        level,
        note: storePeak(draft, 'transmission.over-temperature', stored, dial),
        dialled: {},
      };
    const limits = sumpLimits(draft.car);
    const low = level === 'under' ? limits.watch - 5 : limits[level];
    const top =
      level === 'under'
        ? limits.watch
        : level === 'watch'
          ? limits.repair
          : level === 'repair'
            ? limits.stop
            : limits.stop + 10;
    const peak = level === 'under' ? low + 4.5 * dial : low + 0.3 + (top - low - 0.8) * dial;
    const dwell = random.range(6, 45);
    const base: Phase = { kind: 'circuit', duration: 60, top: random.range(120, 160), corner: random.range(55, 80) };
    const h = hot(draft.script, peak, dwell, random.range(0.35, 0.8), base);
    draft.disturb.push((plant) => plant.overheats.push(h.overheat));
    insertWarm(draft.script, [h.phase, { kind: 'cruise', speed: 80, duration: 40 }]);
    return {
      rule: 'transmission.over-temperature',
      level,
      note: `peak ${peak.toFixed(1)} degC, ${dwell.toFixed(0)} s`,
      dialled: { peak, dwell },
    };
  },
  truth: (sim) => withStored('transmission.over-temperature', seenIn(sim), sim),
  decoys: {
    /** Fluid tied to a hot coolant: 105-110 degC is healthy. */
    coolantCoupled(draft, random) {
      const h = hot(draft.script, random.range(105, 110), 60, 0.3, { kind: 'motorway', speed: 130, duration: 100 });
      draft.disturb.push((plant) => plant.overheats.push(h.overheat));
      insertWarm(draft.script, [h.phase]);
    },
    sentinelLow(draft, random) {
      const from = random.range(60, 300);
      draft.disturbances.push({
        kind: 'value',
        channels: ['transmissionOilTemperature'],
        from,
        to: from + random.range(5, 60),
        value: -40,
      });
    },
    sentinelHigh(draft, random) {
      const from = random.range(60, 300);
      draft.disturbances.push({
        kind: 'value',
        channels: ['transmissionOilTemperature'],
        from,
        to: from + random.range(5, 60),
        value: 215,
      });
    },
    fahrenheit(draft) {
      draft.units.set('transmissionOilTemperature', 'degF');
    },
    spikes(draft, random) {
      draft.disturbances.push({
        kind: 'spike',
        channels: ['transmissionOilTemperature'],
        from: 0,
        to: 1e9,
        value: random.range(150, 200),
        share: 0.0008,
      });
    },
  },
};

/** What the drive itself holds. */
function seenIn(sim: Simulation): TrueFinding {
  const limits = sumpLimits(sim.car);
  const { fluid, firstDegree } = sim.truth.secondsAbove;
  const peak = sim.truth.peaks.transmissionOilTemperature!;
  const above = (limit: number) => fluid[limit - firstDegree] ?? 0;
  const level =
    above(limits.stop) >= 2
      ? 'stop'
      : above(limits.repair) >= 2
        ? 'repair'
        : above(limits.watch) >= 2
          ? 'watch'
          : 'none';
  return {
    level: sim.car.transmission.kind === 'manual' ? 'none' : level,
    measures: { peak, dwell: above(limits.watch) },
    margin: nearest(peak, [limits.watch, limits.repair, limits.stop]),
  };
}
