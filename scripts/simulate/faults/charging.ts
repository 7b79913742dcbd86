import { crankedVoltage } from '../electrics.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { heldMaximum, signalOf } from './settled.js';

/** Lowest voltage of a sound battery under a starter: rows of the load-test table (BCI service manual, from memory). */
const TABLE = [
  [21, 9.6],
  [10, 9.4],
  [-1, 9.1],
  [-18, 8.5],
] as const;

function tableAt(temperature: number): number {
  for (let i = 0; i + 1 < TABLE.length; i++) {
    const [t1, v1] = TABLE[i]!;
    const [t0, v0] = TABLE[i + 1]!;
    if (temperature >= t1) return v1;
    if (temperature >= t0) return v0 + ((v1 - v0) * (temperature - t0)) / (t1 - t0);
  }
  return Number.NaN;
}

/** electrical.charging: an alternator that is dead, a regulator that is stuck, a battery that is worn. */
export const charging: FaultFamily = {
  rule: 'electrical.charging',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    prepare(draft);
    const done = (note: string, dialled: Record<string, number>) => ({ rule: this.rule, level, note, dialled });
    if (level === 'repair' || (level === 'stop' && random.chance(0.5))) {
      // The rest voltage less what the consumers draw over the resistance: 12.3 V at full charge, 11.7 V at none.
      const charge = level === 'repair' ? 0.55 + 0.4 * dial : 0.12 * (1 - dial);
      draft.disturb.push((plant) => {
        plant.alternatorDead = true;
        plant.batteryCharge = charge;
        if (level === 'stop') plant.batteryResistance = 1.6 + dial;
      });
      return done(`alternator dead, battery at ${(100 * charge).toFixed(0)} %`, { charge });
    }
    if (level === 'stop' || (level === 'watch' && random.chance(0.5))) {
      const high = level === 'stop' ? 1.7 + 0.8 * dial : 0.96 + 0.28 * dial;
      draft.disturb.push((plant) => {
        plant.regulatorHigh = high;
        plant.chargeCruise = 13.9;
      });
      return done(`regulator ${high.toFixed(2)} V high`, { high });
    }
    const below = level === 'watch' ? 0.5 + dial : -0.6 + 0.4 * dial;
    const temperature = draft.ambient.temperature;
    const aim = tableAt(Math.max(-18, temperature)) - below;
    const sound = crankedVoltage(0.85, 1, temperature);
    const factor = 1 + (sound - aim) / (crankedVoltage(0.85, 0, temperature) - sound);
    draft.disturb.push((plant) => {
      plant.batteryResistance = factor;
    });
    return done(`${aim.toFixed(2)} V while cranking at ${temperature.toFixed(0)} degC`, { crank: aim });
  },
  truth,
  decoys: {
    chargesByDemand(draft, random) {
      const cruise = random.range(12.3, 12.9);
      draft.disturb.push((plant) => {
        plant.chargeCruise = cruise;
      });
    },
    coldBattery(draft, random) {
      prepare(draft);
      draft.ambient.temperature = random.range(-16, -6);
    },
    slowLog(draft) {
      draft.tuned.set('systemVoltage', { refresh: 1 });
      prepare(draft);
      draft.tuned.set('engineSpeed', { refresh: 2 });
    },
    dropOuts(draft, random) {
      for (let i = 0; i < 4; i++) {
        const from = random.range(60, 500);
        draft.disturbances.push({
          kind: 'value',
          channels: ['systemVoltage'],
          from,
          to: from + random.range(0.3, 1.5),
          value: random.pick([0, 16.5, 9]),
        });
      }
    },
  },
};

function prepare(draft: DriveDraft): void {
  draft.script.unshift({ kind: 'coldStart', keyOn: 3, duration: 20 });
  for (const id of ['systemVoltage', 'coolantTemperature', 'ambientTemperature']) draft.kept.add(id);
  draft.disturb.push((plant) => {
    // Batteries that are cold or weak turn the engine slower.
    plant.crankCold = Math.max(plant.crankCold, 0.8);
  });
  atLeast(draft, 20);
}

/** Limits of the rule catalogue, over the true voltage. */
function truth(sim: Simulation): TrueFinding {
  const volts = signalOf(sim, 'systemVoltage');
  const rpm = signalOf(sim, 'engineSpeed');
  const speed = signalOf(sim, 'vehicleSpeed');
  const starter = signalOf(sim, 'starterActive');
  const ambient = signalOf(sim, 'ambientTemperature');
  const running = (i: number) => rpm[i]! >= 500;
  const reached = heldMaximum(sim, (i) => (running(i) ? volts[i]! : Number.NaN), 2);
  const high = heldMaximum(sim, (i) => (running(i) ? volts[i]! : Number.NaN), 10);
  const low = -heldMaximum(sim, (i) => (running(i) && speed[i]! >= 5 ? -volts[i]! : Number.NaN), 10);
  let seconds = 0;
  for (let i = 0; i < sim.samples; i++) if (rpm[i]! > 1500 && volts[i]! < 12.4) seconds += 1 / sim.rate;
  let weakest = Number.NaN;
  let turned = 0;
  let sum: number[] = [];
  for (let i = 0; i < sim.samples; i++) {
    if (starter[i]! > 0.5 && rpm[i]! >= 20 && rpm[i]! < 400) {
      turned += 1 / sim.rate;
      if (turned > 0.12) sum.push(volts[i]!);
      continue;
    }
    if (sum.length > 5) {
      sum.sort((a, b) => a - b);
      const over = sum[sum.length >> 1]! - tableAt(ambient[i]!);
      if (!(weakest <= over)) weakest = over;
    }
    turned = 0;
    sum = [];
  }
  const flat = seconds >= 60 && reached <= 13.2;
  const level = low < 11.8 || high > 15.8 ? 'stop' : flat ? 'repair' : high > 15.2 || weakest < 0 ? 'watch' : 'none';
  const margins = [
    nearest(high, [15.2, 15.8]),
    nearest(low, [11.8]), // Voltage and temperature of the battery are known less well than those of the running car.
    0.35 * Math.abs(weakest),
    nearest(reached, [13.2]),
  ];
  return {
    level,
    measures: { highest: reached, ...(Number.isNaN(low) ? {} : { lowest: low }) },
    margin: Math.min(9, ...margins.filter((each) => Number.isFinite(each)), ...(flat ? [Math.abs(seconds - 60)] : [])),
  };
}
