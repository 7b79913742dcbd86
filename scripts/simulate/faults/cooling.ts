import type { Phase } from '../script.js';
import type { Simulation } from '../simulate.js';
import { type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { onlyStored, storePeak, withStored } from './stored-peaks.js';

/** Peak of the coolant (degC) per level. */
const PEAK = { under: [106, 111.3], watch: [112.6, 116.4], repair: [117.8, 121.3], stop: [122.8, 132] } as const;
let serial = 0;

/** engine.cooling: fan dead (standing), flow lost (at speed), boiling up fast, thermostat stuck open. */
export const cooling: FaultFamily = {
  rule: 'engine.cooling',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const stored = onlyStored('engine.cooling', level, dial);
    if (stored !== undefined)
      return { rule: this.rule, level, note: storePeak(draft, 'engine.cooling', stored, dial), dialled: {} };
    const kind =
      level === 'watch' && random.chance(0.4)
        ? 'stuckOpen'
        : level === 'stop' && random.chance(0.3)
          ? 'boiling'
          : random.pick(['fan', 'flow']);
    if (kind === 'stuckOpen') {
      const open = 0.25 + 0.5 * dial;
      draft.disturb.push((plant) => {
        plant.thermostatOpen = open;
      });
      insertWarm(draft.script, [
        { kind: 'town', duration: 200, limit: 50 },
        { kind: 'cruise', speed: 105, duration: 240 },
      ]);
      return { rule: this.rule, level, note: `thermostat open by ${open.toFixed(2)}`, dialled: { open } };
    }
    serial += 1;
    const tag = `coolant-${serial}`;
    const [low, high] = PEAK[level];
    const peak = kind === 'boiling' ? 121 : low + (high - low) * dial;
    const rise = kind === 'boiling' ? 0.75 + 0.5 * dial : random.range(0.15, 0.35);
    const dwell = random.range(40, 70);
    // Standing is not repeated until the heat has run its course: it has to be long enough for the climb.
    const phase: Phase =
      kind === 'fan'
        ? { kind: 'idle', duration: (peak - 85) / rise + 45 + dwell, tag }
        : { kind: 'cruise', speed: random.range(90, 130), duration: 60, tag };
    draft.disturb.push((plant) => plant.overheats.push({ tag, peak, dwell, rise, where: 'coolant' }));
    insertWarm(draft.script, [phase, { kind: 'cruise', speed: 80, duration: 60 }]);
    return { rule: this.rule, level, note: `${kind} ${peak.toFixed(1)} degC`, dialled: { peak } };
  },
  truth: (sim) => withStored('engine.cooling', coolingTruth(sim), sim),
  decoys: {
    /** Mapped thermostat: hot at light load, cool at high load. */
    mapped(draft, random) {
      const size = random.range(10, 16);
      draft.car = { ...draft.car, engine: { ...draft.car.engine, thermostat: 103 } };
      draft.disturb.push((plant) => {
        plant.thermostatMap = size;
      });
      insertWarm(draft.script, [
        { kind: 'circuit', duration: 90, top: 150, corner: 70 },
        { kind: 'cruise', speed: 100, duration: 200 },
      ]);
    },
    winter(draft, random) {
      draft.ambient.temperature = random.range(-16, -3);
    },
    /** A long stand in heat: the coolant goes up to where the fan holds it. */
    traffic(draft, random) {
      draft.ambient.temperature = random.range(30, 40);
      insertWarm(draft.script, [
        { kind: 'idle', duration: 150 },
        { kind: 'town', duration: 120, limit: 40 },
        { kind: 'cruise', speed: 100, duration: 200 },
      ]);
    },
    fahrenheit(draft) {
      draft.units.set('coolantTemperature', 'degF');
    },
    sentinelHigh(draft, random) {
      const from = random.range(60, 300);
      draft.disturbances.push({
        kind: 'value',
        channels: ['coolantTemperature'],
        from,
        to: from + random.range(5, 60),
        value: 215,
      });
    },
    spikes(draft, random) {
      draft.disturbances.push({
        kind: 'spike',
        channels: ['coolantTemperature'],
        from: 0,
        to: 1e9,
        value: random.range(120, 150),
        share: 0.0008,
      });
    },
  },
};

/** What the undisturbed coolant shows: seconds above each limit, rise, level on the road against town, warm-up. */
function coolingTruth(sim: Simulation): TrueFinding {
  const coolant = sim.signals.get('coolantTemperature')!;
  const { rate, samples } = sim;
  const longest = { watch: 0, repair: 0, stop: 0 };
  const held = { watch: 0, repair: 0, stop: 0 };
  const above = { watch: 112, repair: 117, stop: 122 };
  let rise = 0;
  let peak = -99;
  for (let i = 0; i < samples; i++) {
    const x = coolant[i]!;
    if (x > peak) peak = x;
    for (const name of ['watch', 'repair', 'stop'] as const) {
      held[name] = x > above[name] ? held[name] + 1 / rate : 0;
      longest[name] = Math.max(longest[name], held[name]);
    }
    const before = i - 8 * rate;
    if (before >= 0 && coolant[before]! > 110) rise = Math.max(rise, (x - coolant[before]!) / 8);
  }
  const { fall, coldest } = coolness(sim);
  const worst =
    longest.stop >= 2 || rise > 0.5
      ? 'stop'
      : longest.repair >= 2
        ? 'repair'
        : longest.watch >= 30 || fall > FALL || coldest < NEVER
          ? 'watch'
          : 'none';
  const margins = [nearest(peak, [112, 117, 122])];
  // Too cool by either limit is decided by the one that is further beyond; without any heat or chill both may be near.
  if (worst === 'none') margins.push(Math.abs(fall - FALL), Math.abs(coldest - NEVER));
  else if (worst === 'watch' && longest.watch < 30) margins.push(furthest([fall - FALL, NEVER - coldest]));
  if (rise > 0) margins.push(20 * Math.abs(rise - 0.5));
  return { level: worst, measures: { peak }, margin: Math.min(...margins.filter((x) => !Number.isNaN(x))) };
}

function furthest(values: readonly number[]): number {
  return Math.max(...values.filter((x) => !Number.isNaN(x)));
}

/** K below its own level on the road; degC after ten minutes of running below which an engine is not warm. */
const FALL = 8;
const NEVER = 71;

/**
 * By the words of the rule: own level = lower quartile at 20 to 75 km/h once the thermostat was reached (not once a dead
 * fan had overheated the standing car); level on the road = median at 80 to 120 km/h from a minute and a half on, over
 * at least another minute, not rising any more; never warm = highest reading, or highest such level, after ten minutes
 * of running and five of moving; or the lowest value that it stays below for a minute of driving after that, not rising.
 */
function coolness(sim: Simulation): { fall: number; coldest: number } {
  const coolant = sim.signals.get('coolantTemperature')!;
  const speed = sim.signals.get('vehicleSpeed')!;
  const { rate, samples } = sim;
  const hot = Math.min(quantileOf(coolant, 0.9), sim.car.engine.thermostat) - 3;
  const town: number[] = [];
  const roads: { level: number; warm: boolean }[] = [];
  let reached = false;
  let late = Number.NaN;
  let moved = 0;
  let start = -1;
  for (let i = 0; i <= samples; i++) {
    const v = i < samples ? speed[i]! : 0;
    const x = i < samples ? coolant[i]! : Number.NaN;
    if (v >= 20) moved += 1 / rate;
    const warmedUp = i >= 600 * rate && moved >= 300;
    if (warmedUp && !(late >= x)) late = Number.isNaN(x) ? late : x;
    if (x >= hot) reached = true;
    if (reached && v >= 20 && v <= 75) town.push(x);
    const steady = v >= 80 && v <= 120;
    if (steady && start < 0) start = i;
    if (steady || start < 0) continue;
    const from = start + 90 * rate;
    start = -1;
    if (i - from < 60 * rate) continue;
    const middle = (from + i) >> 1;
    const later = quantileOf(coolant.subarray(middle, i), 0.5) - quantileOf(coolant.subarray(from, middle), 0.5);
    if (later > 2) continue;
    roads.push({ level: quantileOf(coolant.subarray(from, i), 0.5), warm: from >= 600 * rate && moved >= 300 });
  }
  const stays = lowestStay(sim);
  const own = town.length > 60 * rate ? quantileOf(town, 0.25) : Number.NaN;
  const road = roads.length > 0 ? Math.min(...roads.map(({ level }) => level)) : Number.NaN;
  const warmRoad = roads.filter(({ warm }) => warm).map(({ level }) => level);
  // Whichever proves it: nothing ever got warm, or the road never does.
  const coldest = Math.min(
    stillRising(coolant, rate) || Number.isNaN(late) ? Number.POSITIVE_INFINITY : late,
    warmRoad.length > 0 ? Math.max(...warmRoad) : Number.POSITIVE_INFINITY,
    stays,
  );
  const mapped = sim.plant.thermostatMap > 0;
  return { fall: mapped ? Number.NaN : own - road, coldest: Number.isFinite(coldest) ? coldest : Number.NaN };
}

/** Minutes with more than half of standing, or that follow three with more than half of overrun, and frost do not count. */
function lowestStay(sim: Simulation): number {
  const { rate, samples } = sim;
  const coolant = sim.signals.get('coolantTemperature')!;
  const speed = sim.signals.get('vehicleSpeed')!;
  const pedal = sim.signals.get('pedalPosition')!;
  const engine = sim.signals.get('engineSpeed')!;
  if (sim.signals.get('ambientTemperature')![0]! < 0) return Number.POSITIVE_INFINITY;
  const running = (i: number) => engine[i]! >= 300;
  let lowest = Number.POSITIVE_INFINITY;
  let ran = 0;
  let moved = 0;
  // Second by second.
  for (let i = 0; i < samples; i += rate) {
    if (running(i)) ran++;
    if (running(i) && speed[i]! >= 20) moved++;
    if (ran < 720 || moved < 300) continue;
    let moving = 0;
    let pushed = 0;
    let top = Number.NEGATIVE_INFINITY;
    for (let s = 0; s < 180; s++) {
      const k = i - s * rate;
      if (pedal[k]! < 1 && speed[k]! >= 10 && engine[k]! >= 1100) pushed++;
      if (s >= 60) continue;
      if (speed[k]! >= 20) moving++;
      top = running(k) ? Math.max(top, coolant[k]!) : Number.POSITIVE_INFINITY;
    }
    if (moving >= 30 && pushed <= 90 && coolant[i]! - coolant[i - 60 * rate]! <= 1) lowest = Math.min(lowest, top);
  }
  return lowest;
}

/** More than a kelvin a minute over the last two minutes, and not warm: how far it would have come is not known. */
function stillRising(coolant: Float32Array, rate: number): boolean {
  const end = coolant.length;
  const early = quantileOf(coolant.subarray(Math.max(0, end - 120 * rate), end - 60 * rate), 0.5);
  return quantileOf(coolant.subarray(end - 60 * rate), 0.5) - early > 1;
}

function quantileOf(values: ArrayLike<number>, p: number): number {
  const sorted = Float64Array.from(values).sort();
  return sorted[Math.floor(p * (sorted.length - 1))] ?? Number.NaN;
}
