import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, insertWarm, nearest, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** m/s2 from which the rule looks for it; bar and share below which the pressure is missing; s for which. */
const HARD = 0.6 * 9.80665;
const LOW = 2;
const LEFT = 0.7;
const HELD = 0.2;
/** Seconds until the pressure is there. */
const LATE = { under: [0.5, 2.2], watch: [3.4, 5.4], repair: [6.6, 9.5] } as const;

/** engine.oil-surge: the pick-up sucks air in corners; the pressure comes late after a start. */
export const oilSurge: FaultFamily = {
  rule: 'engine.oil-surge',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    prepare(draft, random.range(8, 10), random.chance(0.5));
    if (level === 'stop' || (level === 'under' && random.chance(0.5))) {
      // Pressure there is 4.1 bar and more: 2 bar are half of it.
      const share = level === 'under' ? 0.9 - 0.25 * dial : 0.4 - 0.35 * dial;
      const from = random.range(5, 7);
      const delay = random.range(0.2, 0.6);
      draft.disturb.push((plant) => {
        plant.oilSurge = { from, delay, share };
      });
      return { rule: this.rule, level, note: `${Math.round(100 * share)} % left in corners`, dialled: { share } };
    }
    const [low, high] = LATE[level];
    const seconds = low + (high - low) * dial;
    draft.disturb.push((plant) => {
      plant.oilFill = seconds;
    });
    return { rule: this.rule, level, note: `pressure after ${seconds.toFixed(1)} s`, dialled: { seconds } };
  },
  truth,
  decoys: {
    /** The pump goes to its low stage on a trailing throttle, as in every corner. */
    stageInCorners(draft, random) {
      prepare(draft, random.range(7, 10), true);
      const stage = random.range(1.4, 2.4);
      draft.disturb.push((plant) => {
        plant.oilLowStage = stage;
        plant.oilStageBelow = 700;
      });
    },
    looseConnector(draft, random) {
      prepare(draft, random.range(7, 10), true);
      draft.disturbances.push({
        kind: 'spike',
        channels: ['engineOilPressure'],
        from: 0,
        to: 1e9,
        value: 0,
        share: random.range(0.002, 0.02),
      });
    },
    coldStart(draft, random) {
      draft.ambient.temperature = random.range(-15, -5);
      prepare(draft, 7, true);
    },
    slowLog(draft, random) {
      prepare(draft, random.range(8, 10), true);
      draft.tuned.set('engineOilPressure', { refresh: 2 });
      draft.disturb.push((plant) => {
        plant.oilSurge = { from: 5, delay: 0.4, share: 0.75 };
      });
    },
  },
};

function prepare(draft: DriveDraft, lateral: number, sensor: boolean): void {
  draft.script.unshift({ kind: 'coldStart', keyOn: 3, duration: 20 });
  insertWarm(draft.script, [
    { kind: 'motorway', speed: 110, duration: 120 },
    { kind: 'circuit', duration: 90, top: 160, corner: 85, lateral, sporting: true },
  ]);
  if (sensor) draft.added.add('lateralAcceleration');
  for (const id of ['engineOilPressure', 'yawRate', 'engineOilTemperature']) draft.kept.add(id);
  atLeast(draft, 10);
}

/** What the undisturbed signals hold: pressure against what it would be with the pick-up in oil; 300 rpm to 0.5 bar. */
function truth(sim: Simulation): TrueFinding {
  const pressure = signalOf(sim, 'engineOilPressure');
  const whole = signalOf(sim, 'engineOilPressureWhole');
  const rpm = signalOf(sim, 'engineSpeed');
  const oil = signalOf(sim, 'engineOilTemperature');
  const lateral = signalOf(sim, 'lateralAcceleration');
  const held = Math.round(HELD * sim.rate);
  let starved = 0;
  // Lowest of "how much more than allowed is there", held for as long as it takes.
  let spare = 9;
  const recent: number[] = [];
  let hard = Number.NEGATIVE_INFINITY;
  let start = Number.NaN;
  let stood = false;
  let late = Number.NaN;
  for (let i = 1; i < sim.samples; i++) {
    if (Math.abs(lateral[i]!) >= HARD) hard = i;
    const judged = rpm[i]! > 3000 && oil[i]! >= 80 && i - hard < sim.rate;
    if (judged) recent.push(Math.max(pressure[i]! - LOW, pressure[i]! - LEFT * whole[i]!));
    else recent.length = 0;
    if (recent.length >= held) {
      const most = Math.max(...recent.slice(-held));
      if (most < 0) starved++;
      spare = Math.min(spare, most);
    }
    if (rpm[i]! < 50) start = Number.NaN;
    // Out of standstill only: what sags and recovers is no start.
    if (rpm[i]! < 50) stood = true;
    if (stood && rpm[i]! >= 300) {
      start = i;
      stood = false;
    }
    if (!Number.isNaN(start) && pressure[i]! >= 0.5) {
      const seconds = (i - start) / sim.rate;
      late = Number.isNaN(late) ? seconds : Math.max(late, seconds);
      start = Number.NaN;
    }
  }
  const level = starved > 0 ? 'stop' : late > 6 ? 'repair' : late > 3 ? 'watch' : 'none';
  return {
    level,
    measures: Number.isNaN(late) ? {} : { buildUp: late },
    // In bar and in seconds: the border fits both.
    margin: starved > 0 ? -spare : Math.min(spare, nearest(late, [3, 6]) || 9),
  };
}
