import type { Simulation } from '../simulate.js';
import type { DriveDraft, FaultFamily, TrueFinding } from './fault.js';
import { signalOf } from './settled.js';

/** Share of the mixture that comes out of the oil at idle while it is cold. */
const SHARE = { under: [0.01, 0.03], watch: [0.09, 0.16] } as const;
/** Points. */
const LIMIT = 5;

/** engine.oil-dilution: fuel boils off the oil and makes the idle rich until it is hot. */
export const oilDilution: FaultFamily = {
  rule: 'engine.oil-dilution',
  levels: ['watch'],
  apply(draft, level, dial) {
    const [low, high] = SHARE[level === 'under' ? 'under' : 'watch'];
    const share = low + (high - low) * dial;
    prepare(draft);
    draft.disturb.push((plant) => {
      plant.oilVapour = share;
      // Thinner oil makes less pressure.
      plant.oilShare *= 1 - share;
    });
    return { rule: this.rule, level, note: `${(100 * share).toFixed(1)} % vapour`, dialled: { share } };
  },
  truth,
  decoys: {
    purgeWhileCold(draft, random) {
      prepare(draft);
      const share = random.range(0.06, 0.14);
      draft.disturb.push((plant) => {
        for (let t = 40; t < 400; t += 40) plant.purge.push({ from: t, to: t + 14, share });
      });
    },
    leakingInjector(draft, random) {
      prepare(draft);
      const share = random.range(0.05, 0.09);
      draft.disturb.push((plant) => {
        plant.fuelFactor = [plant.fuelFactor[0] * (1 + share), plant.fuelFactor[1] * (1 + share)];
      });
    },
    ethanol(draft, random) {
      prepare(draft);
      const need = 1 + random.range(0.02, 0.05);
      draft.disturb.push((plant) => {
        plant.fuelNeed = need;
      });
    },
    winter(draft, random) {
      draft.ambient.temperature = random.range(-15, -3);
      prepare(draft);
    },
  },
};

/** From cold, and idle as often as the oil warms. */
function prepare(draft: DriveDraft): void {
  const idle = { kind: 'idle', duration: 50 } as const;
  draft.script.unshift(
    { kind: 'coldStart', keyOn: 3, duration: 60 },
    { kind: 'cruise', speed: 50, duration: 40 },
    idle,
    { kind: 'cruise', speed: 50, duration: 40 },
    idle,
  );
  draft.script.push({ kind: 'cruise', speed: 90, duration: 60 }, { kind: 'hotIdle', duration: 60 });
  for (const id of ['engineOilTemperature', 'fuelTrimLong', 'fuelTrimShort', 'fuelSystemStatus']) draft.kept.add(id);
}

/** What the mixture needs at idle with warming oil against hot oil, by the model of the vapour alone. */
function truth(sim: Simulation): TrueFinding {
  const oil = signalOf(sim, 'engineOilTemperature');
  const speed = signalOf(sim, 'vehicleSpeed');
  const vapour = signalOf(sim, 'oilVapour');
  const rpm = signalOf(sim, 'engineSpeed');
  const early: number[] = [];
  const late: number[] = [];
  for (let i = 0; i < sim.samples; i += 5) {
    if (!(speed[i]! < 1 && rpm[i]! > 400 && sim.time[i]! > 50)) continue;
    if (oil[i]! >= 35 && oil[i]! <= 75) early.push(vapour[i]!);
    else if (oil[i]! >= 90) late.push(vapour[i]!);
  }
  const middle = (list: number[]): number => list.sort((a, b) => a - b)[list.length >> 1] ?? 0;
  // Points of trim: 1 / (1 + vapour) - 1.
  const points = (share: number): number => 100 * (1 - 1 / (1 + share));
  const fading = points(middle(early)) - points(middle(late));
  return { level: fading >= LIMIT ? 'watch' : 'none', measures: { fading }, margin: Math.abs(fading - LIMIT) };
}
