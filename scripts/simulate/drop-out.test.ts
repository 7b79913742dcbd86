import { describe, expect, it } from 'vitest';
import { type Plant, simulate } from './index.js';

/** Selector exercise with a drive that lets go after 1.2 s and would stay away for `seconds`. */
function exercise(seconds: number, fluid: number) {
  return simulate({
    seed: 5,
    car: 'demo-saloon',
    script: [{ kind: 'selectorExercise', repeats: 3, hold: 4 }],
    ambient: { temperature: 15 },
    warm: fluid,
    signalRate: 200,
    disturb: (plant: Plant) => {
      plant.dropOut = { after: 1.2, seconds, times: 12 };
    },
  });
}

describe('a drive that lets go at standstill', () => {
  it('is gone for as long as the gear says, and no longer than the driver leaves the selector', () => {
    for (const seconds of [1, 6]) {
      const sim = exercise(seconds, 90);
      const gear = sim.signals.get('gear')!;
      const dropped = sim.truth.engagements.filter(({ droppedOut }) => droppedOut > 0);
      expect(dropped.length).toBeGreaterThan(4);
      for (const { engaged, droppedOut } of dropped) {
        let gone = 0;
        let i = Math.round((engaged + 0.1) * sim.rate);
        while (gear[i] !== 0) i++;
        for (const from = i; gear[i] === 0 && i - from <= droppedOut * sim.rate; i++) gone++;
        expect(gone / sim.rate).toBeGreaterThan(droppedOut - 0.02);
        expect(droppedOut).toBeLessThan(Math.min(seconds, 4 - 1.2) + 0.02);
      }
    }
  });

  it('holds while the fluid is cold and thick', () => {
    expect(exercise(1, 20).truth.engagements.every(({ droppedOut }) => droppedOut === 0)).toBe(true);
  });
});
