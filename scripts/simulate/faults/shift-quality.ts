import type { Simulation } from '../simulate.js';
import type { ShiftRecord } from '../transmission-records.js';
import { atLeast, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** transmission.shift-quality: a clutch that takes over late (the engine runs over) or slowly (the shift drags). */
export const shiftQuality: FaultFamily = {
  rule: 'transmission.shift-quality',
  suits: (car) => car.transmission.kind !== 'manual',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    atLeast(draft, random.pick([20, 25]));
    const gears = new Set([random.pick([2, 3])]);
    const drag = level === 'watch' && random.chance(0.4);
    const rpm = level === 'under' ? 30 + 60 * dial : level === 'watch' ? 200 + 120 * dial : 520 + 400 * dial;
    const factor = 4 + 4 * dial;
    draft.disturb.push((plant) => {
      if (drag) plant.shiftFactor = { gears, factor };
      else plant.flare = { gears, rpm };
    });
    insertWarm(draft.script, [
      { kind: 'rollingAcceleration', from: 30, to: 110, acceleration: 1.6, repeats: 5 },
      { kind: 'town', duration: 120, limit: 60 },
    ]);
    for (const id of ['wheelSpeed', 'vehicleSpeed']) draft.kept.add(id);
    const dialled: Record<string, number> = drag ? { factor } : { flare: rpm };
    return { rule: 'transmission.shift-quality', level, note: `out of gear ${[...gears].join()}`, dialled };
  },
  truth,
  decoys: {
    /** Foot off and on in the middle of everything. */
    liftOff(draft, random) {
      draft.rate = 20;
      insertWarm(draft.script, [{ kind: 'tipIn', times: random.int(6, 12) }]);
    },
    limiter(draft) {
      draft.rate = 20;
      insertWarm(draft.script, [{ kind: 'circuit', duration: 90, top: 150, corner: 60 }]);
    },
    slowLog(draft, random) {
      draft.rate = random.pick([2, 5]);
    },
    wholeKilometres(draft) {
      draft.rate = 20;
      for (const id of ['inputShaftSpeed', 'outputShaftSpeed', 'wheelSpeed']) draft.dropped.add(id);
      draft.tuned.set('vehicleSpeed', { quantum: 1 });
    },
  },
};

const GEARBOX_COLD = 40; // degC
const LIKE = 8;

/** A shift as a perfect observer sees it. */
interface Seen {
  readonly shift: ShiftRecord;
  /** Pedal (0 to 1) just before the ratio changes, which may be long after the torque began to. */
  readonly pedal: number;
  readonly duration: number;
  /** The foot stayed still while the ratio changed; an upshift during which it stayed still until the engine stood half as far over. */
  readonly steady: boolean;
  readonly shows: boolean;
}

/**
 * Same words as the rule catalogue, on the true state: power on, no skipped gear, no limiter, warm fluid, a still foot;
 * normal is what like shifts (same direction, about the same pedal) of this car take.
 */
function truth(sim: Simulation): TrueFinding {
  const { kind } = sim.car.transmission;
  if (kind === 'manual') return { level: 'none', measures: { flare: 0 }, margin: Number.POSITIVE_INFINITY };
  const seen = sim.truth.shifts.flatMap((shift) => seenOf(sim, shift));
  const steady = seen.filter((each) => each.steady);
  const flare = seen.reduce((most, { shift, shows }) => (shows ? Math.max(most, shift.flare) : most), 0);
  const slow = Math.max(slowest(steady), always(steady, kind === 'dual-clutch' ? 0.6 : 1.2));
  const durations = steady.map(({ duration }) => duration).sort((a, b) => a - b);
  const measures =
    durations.length === 0 ? {} : { duration: quantile(durations, 0.5), longest: quantile(durations, 1) };
  const level = flare > 400 ? 'repair' : flare > 150 || slow > 0 ? 'watch' : 'none';
  const edge = Math.min(Math.abs(flare - 150), Math.abs(flare - 400));
  // A tenth of a second of a shift weighs as much as 50 rpm of flare.
  const late = Math.abs(slow) * 500;
  const margin = level === 'watch' && flare <= 150 ? late : level === 'none' ? Math.min(edge, late) : edge;
  return { level, measures: { flare, ...measures }, margin };
}

function seenOf(sim: Simulation, shift: ShiftRecord): Seen[] {
  const { from, t10, t90, gearBefore, gearAfter } = shift;
  if (!(t90 > t10) || Math.abs(gearAfter - gearBefore) !== 1 || gearBefore < 1 || gearAfter < 1) return [];
  const at = Math.floor(from * sim.rate);
  const speed = signalOf(sim, 'engineSpeed')[at]!;
  if (signalOf(sim, 'transmissionOilTemperature')[at]! < GEARBOX_COLD) return [];
  if (speed < 900 || speed > sim.car.engine.revLimit - 250 || !(shift.pedal >= 0.1)) return [];
  const pedal = relative(sim, signalOf(sim, 'pedalPosition')[Math.max(0, Math.floor((t10 - 0.2) * sim.rate))]!);
  const steady = still(sim, pedal, t10, t90 + 0.1);
  const shows = gearAfter > gearBefore && still(sim, shift.pedal, from, shift.tHalf);
  return steady || shows ? [{ shift, pedal, duration: t90 - t10, steady, shows }] : [];
}

function still(sim: Simulation, pedal: number, from: number, to: number): boolean {
  const raw = signalOf(sim, 'pedalPosition');
  const end = Math.min(sim.samples - 1, Math.ceil(to * sim.rate));
  for (let i = Math.max(0, Math.floor((from - 0.2) * sim.rate)); i <= end; i++) {
    const x = relative(sim, raw[i]!);
    if (x < 0.6 * pedal || x > Math.max(1.6 * pedal, pedal + 0.15)) return false;
  }
  return true;
}

function relative(sim: Simulation, raw: number): number {
  const { pedalRest, pedalFull } = sim.car.sensors;
  return (raw - pedalRest) / (pedalFull - pedalRest);
}

function quantile(sorted: readonly number[], q: number): number {
  const x = q * (sorted.length - 1);
  const k = Math.floor(x);
  return sorted[k]! + (x - k) * ((sorted[k + 1] ?? sorted[k]!) - sorted[k]!);
}

/** Seconds by which the second slowest shift of a kind exceeds what is normal for its like; below 0 when it does not. */
function slowest(steady: readonly Seen[]): number {
  const excess: number[] = [];
  for (const { shift, pedal, duration } of steady) {
    const up = shift.gearAfter > shift.gearBefore;
    const like = steady.filter(
      (x) => x.shift.gearAfter > x.shift.gearBefore === up && Math.abs(x.pedal - pedal) <= 0.15,
    );
    if (like.length < LIKE) continue;
    const durations = like.map((x) => x.duration).sort((a, b) => a - b);
    const usual = quantile(durations, 0.5);
    const away = durations.map((x) => Math.abs(x - usual)).sort((a, b) => a - b);
    excess.push(duration - Math.max(2 * usual, usual + 3 * 1.4826 * quantile(away, 0.5), usual + 0.15));
  }
  return excess.sort((a, b) => b - a)[1] ?? Number.NEGATIVE_INFINITY;
}

/** Seconds by which three shifts in ten exceed an absolute limit; below 0 when they do not. */
function always(steady: readonly Seen[], limit: number): number {
  if (steady.length < LIKE) return Number.NEGATIVE_INFINITY;
  const sorted = steady.map(({ duration }) => duration - limit).sort((a, b) => b - a);
  return sorted[Math.ceil(0.3 * sorted.length) - 1]!;
}
