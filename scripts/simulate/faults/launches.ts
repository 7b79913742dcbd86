import type { Phase } from '../script.js';
import { type FaultFamily, insertWarm } from './fault.js';

/** Lower 97.5 % bounds of a Poisson mean for counts 0..8 (Garwood 1936, exact chi-square form; from memory of the table). */
const GARWOOD = [0, 0.0253, 0.2422, 0.6187, 1.0899, 1.6235, 2.2019, 2.8144, 3.4538] as const;

/**
 * usage.launches: standing starts with the launch programme. The rule judges a rate per distance and is capped at
 * `watch`, so a level only asks for a number of launches; `under` is a single one.
 */
export const launches: FaultFamily = {
  rule: 'usage.launches',
  levels: ['watch'],
  apply(draft, level, dial, random) {
    const count = level === 'under' ? 1 : 2 + Math.round(dial * 4);
    for (let i = 0; i < count; i++) {
      const phases: Phase[] = [{ kind: 'launch', to: random.range(75, 115), hold: random.range(1.1, 2.2) }];
      if (random.chance(0.6)) phases.push({ kind: 'stop', stand: random.range(4, 12) });
      else phases.push({ kind: 'town', duration: random.range(20, 45) });
      insertWarm(draft.script, phases);
    }
    return { rule: 'usage.launches', level, note: `${count} launches`, dialled: { launches: count } };
  },
  truth(sim) {
    const count = sim.truth.launches.filter((l) => l.acceleration >= 3.5).length;
    const km = sim.truth.distance / 1000;
    const bound = count < GARWOOD.length ? GARWOOD[count]! : count - 1.96 * Math.sqrt(count);
    const rate = (1000 * bound) / km;
    return {
      level: count >= 2 && rate > 5 ? 'watch' : 'none',
      measures: { launches: count, ratePer1000km: rate },
      margin: count >= 2 ? Math.abs(rate - 5) : Number.POSITIVE_INFINITY,
    };
  },
  decoys: {
    briskPullAway(draft, random) {
      for (let i = 0; i < 3; i++)
        insertWarm(draft.script, [
          { kind: 'briskPullAway', acceleration: random.range(2.2, 2.9), to: random.range(45, 80) },
        ]);
    },
    hillStart(draft, random) {
      for (let i = 0; i < 2; i++) {
        insertWarm(draft.script, [
          { kind: 'hillStart', slope: random.range(0.08, 0.16), to: 40 },
          { kind: 'stop', stand: 3 },
        ]);
      }
    },
    revInNeutral(draft, random) {
      insertWarm(draft.script, [
        { kind: 'stop', stand: 2 },
        { kind: 'revInNeutral', rpm: random.range(2800, 4200), times: random.int(2, 4) },
        { kind: 'town', duration: 20 },
      ]);
    },
    wheelspinIce(draft, random) {
      insertWarm(draft.script, [
        { kind: 'wheelspinIce', friction: random.range(0.06, 0.14), duration: random.range(3, 6) },
        { kind: 'stop', stand: 4, grip: 0.2 },
        { kind: 'cruise', speed: 30, duration: 15 },
      ]);
    },
    creep(draft, random) {
      insertWarm(draft.script, [{ kind: 'creep', duration: random.range(15, 35) }]);
    },
  },
};
