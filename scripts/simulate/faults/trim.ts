import { type FaultFamily, insertWarm, nearest } from './fault.js';

/** Range of total trim (%) per level; sides are drawn. Stop needs lean mixture at load besides, so it is not dialled. */
const RANGE = { under: [5.5, 9.3], watch: [10.7, 14.2], repair: [16, 24] } as const;

/** fuel.trim: a lasting mixture error that the control unit corrects: where depends on the cause. */
export const trim: FaultFamily = {
  rule: 'fuel.trim',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const [low, high] = RANGE[level === 'stop' ? 'repair' : level];
    const car = draft.car;
    insertWarm(draft.script, [
      {
        kind: 'rollingAcceleration',
        from: 60,
        to: 120,
        acceleration: loadAcceleration(car.engine.ratedPower / car.body.mass),
        repeats: 5,
      },
      { kind: 'cruise', speed: 80, duration: 50 },
    ]);
    draft.script.push({ kind: 'hotIdle', duration: 50 });
    const kinds = ['leak', 'meterHigh', 'allRich', 'load', ...(car.engine.banks === 2 ? ['bankLean'] : [])];
    const kind = random.pick(kinds);
    // Banks may differ by less than the total: that limit is 6 points.
    const size = level === 'under' && kind === 'bankLean' ? 0.02 + 0.025 * dial : (low + (high - low) * dial) / 100;
    const bank = car.engine.banks === 2 && random.chance(0.5) ? 1 : 0;
    draft.disturb.push((plant) => {
      // Idle air of a warm engine is about 1.15 g/s per litre.
      if (kind === 'leak') plant.leakFlow = (size / (1 + size)) * 0.00115 * car.engine.displacement;
      else if (kind === 'meterHigh') {
        plant.meterLow = 1 / (1 + size);
        plant.meterHigh = 1 / (1 + size * 1.1);
      } else if (kind === 'allRich')
        plant.fuelFactor = [plant.fuelFactor[0] / (1 - size), plant.fuelFactor[1] / (1 - size)];
      else if (kind === 'load') {
        // Felt at about 30 % of the rated flow, where closed loop still runs.
        plant.fuelFade = Math.min(0.6, size / (1 + size) / 0.3);
      } else plant.fuelFactor[bank] = plant.fuelFactor[bank]! / (1 + size);
    });
    return {
      rule: 'fuel.trim',
      level,
      note: `${kind} ${(size * 100).toFixed(1)} %${kind === 'bankLean' ? ` bank ${bank + 1}` : ''}`,
      dialled: { trim: size * 100 },
    };
  },
  truth(sim) {
    const measures: Record<string, number> = {};
    let worst = 0;
    let apart = 0;
    for (const regime of ['idle', 'cruise', 'load']) {
      const one = sim.truth.trims[`${regime}.bank1`];
      const two = sim.truth.trims[`${regime}.bank2`];
      for (const [key, t] of [[`${regime}.bank1`, one] as const, [`${regime}.bank2`, two] as const]) {
        if (!t || t.seconds < 30) continue;
        measures[key] = t.median;
        worst = Math.max(worst, Math.abs(t.median));
      }
      if (one && two && one.seconds >= 60 && two.seconds >= 60)
        apart = Math.max(apart, Math.abs(one.median - two.median));
    }
    measures.banksApart = apart;
    const level = sim.plant.trimReset ? 'none' : worst > 15 ? 'repair' : worst > 10 || apart > 6 ? 'watch' : 'none';
    return { level, measures, margin: Math.min(nearest(worst, [10, 15]), Math.abs(apart - 6)) };
  },
  decoys: {
    purge(draft, random) {
      draft.disturb.push((plant) => {
        for (let t = random.range(100, 200); t < 3000; t += random.range(120, 260))
          plant.purge.push({ from: t, to: t + random.range(8, 18), share: random.range(0.06, 0.14) });
      });
    },
    /** Adaptation cleared and held at 0 everywhere: nothing learned, nothing to judge from. */
    allLongZero(draft) {
      draft.disturb.push((plant) => {
        plant.trimReset = true;
      });
    },
    /** Cleared just before: nothing learned yet, the short trims carry everything. */
    justCleared(draft) {
      draft.disturb.push((plant) => {
        plant.learnedShare = 0;
      });
    },
    /** Long trims written as a factor around 1.00. */
    factorColumns(draft) {
      for (let k = 1; k <= draft.car.engine.banks; k++) draft.units.set(`fuelTrimLong.bank${k}`, 'factor');
    },
    oilVapour(draft, random) {
      const share = random.range(0.04, 0.09);
      draft.disturb.push((plant) => {
        plant.oilVapour = share;
      });
    },
    /** A small exhaust leak before the sensor: it reads lean at idle, but within what a sound engine corrects. */
    exhaustLeak(draft, random) {
      const leak = random.range(0.02, 0.05);
      draft.disturb.push((plant) => {
        plant.exhaustLeak = leak;
      });
    },
    ethanol(draft, random) {
      const need = 1 + random.range(0.02, 0.037);
      draft.disturb.push((plant) => {
        plant.fuelNeed = need;
      });
    },
    coldOnly(draft, random) {
      draft.ambient.temperature = random.range(-12, 0);
    },
    fuelCuts(draft) {
      insertWarm(draft.script, [
        { kind: 'cruise', speed: 70, duration: 10 },
        { kind: 'coast', to: 30 },
        { kind: 'cruise', speed: 70, duration: 10 },
        { kind: 'coast', to: 30 },
      ]);
    },
    fullLoadOpenLoop(draft) {
      insertWarm(draft.script, [{ kind: 'pull', gear: 3, fromRpm: 2500, toRpm: draft.car.engine.revLimit - 800 }]);
    },
  },
};

/** Acceleration (m/s2) that keeps a car of that power per mass (kW/kg) in the closed-loop load range. */
function loadAcceleration(specific: number): number {
  return Math.min(2.2, Math.max(0.9, 9 * specific));
}
