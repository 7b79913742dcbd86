import type { Simulation } from '../simulate.js';
import { atLeast, type FaultFamily, insertWarm, type TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** transmission.selection: late engagement at standstill, or one that lets go again. */
export const selection: FaultFamily = {
  rule: 'transmission.selection',
  suits: (car) => car.transmission.kind !== 'manual',
  levels: ['watch', 'repair', 'stop'],
  apply(draft, level, dial, random) {
    const drop = level === 'stop' || (level === 'repair' && random.chance(0.4));
    const time = level === 'under' ? 0.7 + 0.5 * dial : level === 'watch' ? 1.8 + 0.9 * dial : 3.3 + 1.2 * dial;
    const seconds = level === 'stop' ? 2.3 + 1.5 * dial : 0.75 + 0.9 * dial;
    draft.disturb.push((plant) => {
      if (drop) plant.dropOut = { after: 1.2, seconds, times: 12 };
      else plant.engageTime = time;
    });
    atLeast(draft, random.pick([10, 20]));
    insertWarm(draft.script, [
      { kind: 'stop', stand: 3 },
      { kind: 'selectorExercise', repeats: 4, hold: 8 },
    ]);
    const dialled: Record<string, number> = drop ? { dropOut: seconds } : { delay: time };
    return { rule: 'transmission.selection', level, note: drop ? 'lets go' : 'late', dialled };
  },
  truth,
  decoys: {
    coldFluid(draft, random) {
      draft.ambient = { ...draft.ambient, temperature: random.range(-20, -8) };
    },
    creeping(draft) {
      insertWarm(draft.script, [
        { kind: 'creep', duration: 20 },
        { kind: 'stop', stand: 4 },
        { kind: 'creep', duration: 12 },
      ]);
    },
    slowLog(draft) {
      draft.rate = 1;
    },
  },
};

function truth(sim: Simulation): TrueFinding {
  const fluid = signalOf(sim, 'transmissionOilTemperature');
  const warm = sim.truth.engagements.filter(({ asked }) => fluid[Math.floor(asked * sim.rate)]! >= 20);
  const middle = (selector: 'D' | 'R'): number => {
    const delays = warm.filter((e) => e.selector === selector).map(({ asked, engaged }) => engaged - asked);
    return delays.length < 3 ? Number.NaN : delays.sort((a, b) => a - b)[delays.length >> 1]!;
  };
  const [d, r] = [middle('D'), middle('R')];
  const delay = Math.max(Number.isNaN(d) ? 0 : d, Number.isNaN(r) ? 0 : r);
  const drop = warm.reduce((most, { droppedOut }) => Math.max(most, droppedOut), 0);
  const second = secondForFirst(sim);
  const [stop, repair] = [drop >= 2 || second === 'stop', drop >= 0.5 || delay > 3];
  const level = stop ? 'stop' : repair ? 'repair' : delay > 1.5 || second === 'watch' ? 'watch' : 'none';
  const margin = Math.min(
    Math.abs(delay - 1.5),
    Math.abs(delay - 3),
    drop > 0 ? Math.abs(drop - 0.5) : Number.POSITIVE_INFINITY,
    drop > 0 ? Math.abs(drop - 2) : Number.POSITIVE_INFINITY,
  );
  const suited = sim.car.transmission.kind !== 'manual';
  return { level: suited ? level : 'none', measures: { 'delay.D': Number.isNaN(d) ? 0 : d, dropOut: drop }, margin };
}

/** Every start from standstill in D in second gear, with warm fluid: first was lost; it was wanted when the foot was down. */
function secondForFirst(sim: Simulation): 'none' | 'watch' | 'stop' {
  if (!sim.plant.lostGears.has(1) || sim.plant.lostGears.has(2)) return 'none';
  const [speed, gear, pedal] = ['vehicleSpeed', 'gear', 'pedalPosition'].map((id) => signalOf(sim, id));
  const fluid = signalOf(sim, 'transmissionOilTemperature');
  const { pedalRest, pedalFull } = sim.car.sensors;
  let starts = 0;
  let hard = false;
  let stood = 0;
  for (let i = 0; i < sim.samples; i++) {
    if (speed![i]! < 1) {
      stood++;
      continue;
    }
    const counts = stood >= 1.5 * sim.rate && gear![i]! === 2 && fluid[i]! >= 20;
    stood = 0;
    if (!counts) continue;
    starts++;
    for (let k = i; k < sim.samples && speed![k]! < 6 && k < i + 4 * sim.rate; k++)
      if ((pedal![k]! - pedalRest) / (pedalFull - pedalRest) >= 0.6) hard = true;
  }
  return starts === 0 ? 'none' : hard && starts >= 3 ? 'stop' : 'watch';
}
