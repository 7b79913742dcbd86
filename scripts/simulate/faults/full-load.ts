import type { Simulation } from '../simulate.js';
import { type DriveDraft, insertWarm } from './fault.js';
import { type Stretch, signalOf, stretchesOf } from './settled.js';

/** Pedal on the floor in one gear: stretches of kept samples, with the number of the pull they belong to. */
export interface TruePiece extends Stretch {
  readonly pull: number;
  /** First sample of that pull. */
  readonly began: number;
}

/** As a perfect observer sees full load: pedal beyond 80 % for 2 s on the move, less shifts and what follows them. */
export function truePieces(sim: Simulation): TruePiece[] {
  const { pedalRest, pedalFull } = sim.car.sensors;
  const pedal = signalOf(sim, 'pedalPosition');
  const speed = signalOf(sim, 'vehicleSpeed');
  const rpm = signalOf(sim, 'engineSpeed');
  const floor = pedalRest + 0.8 * (pedalFull - pedalRest);
  const between = new Uint8Array(sim.samples);
  for (const { from, to } of sim.truth.shifts)
    between.fill(1, Math.max(0, Math.floor((from - 0.6) * sim.rate)), Math.ceil((to + 1) * sim.rate));
  const found: TruePiece[] = [];
  stretchesOf(sim, (i) => pedal[i]! >= floor && speed[i]! > 1 && rpm[i]! > 400, 2).forEach(({ start, end }, pull) => {
    for (let i = start; i <= end; i++) {
      if (between[i] === 1) continue;
      const first = i;
      while (i + 1 <= end && between[i + 1] === 0) i++;
      if ((i - first) / sim.rate >= 0.5) found.push({ start: first, end: i, pull, began: start });
    }
  });
  return found;
}

/** Highest value held for `seconds` within a stretch; NaN breaks; NaN when there is no window. */
export function heldWithin(
  sim: Simulation,
  { start, end }: Stretch,
  value: (i: number) => number,
  seconds: number,
): number {
  const width = Math.round(seconds * sim.rate);
  let best = Number.NaN;
  for (let i = start; i + width <= end; i++) {
    let low = Number.POSITIVE_INFINITY;
    for (let k = i; k <= i + width; k++) {
      const x = value(k);
      if (Number.isNaN(x) || x <= (Number.isNaN(best) ? Number.NEGATIVE_INFINITY : best)) {
        low = Number.NaN;
        i = k;
        break;
      }
      if (x < low) low = x;
    }
    if (!Number.isNaN(low)) best = low;
  }
  return best;
}

/** The worst of each pull, largest first. */
export function perPull(values: readonly { readonly pull: number; readonly value: number }[]): number[] {
  const best = new Map<number, number>();
  for (const { pull, value } of values)
    if (!Number.isNaN(value) && !((best.get(pull) ?? Number.NEGATIVE_INFINITY) >= value)) best.set(pull, value);
  return [...best.values()].sort((a, b) => b - a);
}

/** Three long pulls with everything warm. */
export function longPulls(draft: DriveDraft, fromRpm: number, toRpm = draft.car.engine.revLimit - 500): void {
  const gear = draft.car.transmission.gears.length > 6 ? 4 : 3;
  const pull = { kind: 'pull', gear: gear + 1, fromRpm, toRpm } as const;
  insertWarm(draft.script, [pull, pull, pull]);
}
