import { describe, expect, it } from 'vitest';
import { carById, drawDrive, FAULTS, simulate } from '../index.js';
import type { FaultFamily } from './fault.js';

/** A car that the rule applies to. */
function carFor(family: FaultFamily): string {
  return family.suits?.(carById('demo-saloon')) === false ? 'demo-coupe' : 'demo-saloon';
}

const cases = FAULTS.flatMap((f) =>
  (['under', ...f.levels] as const).map((level) => ({ rule: f.rule, level, family: f })),
);

describe('faults', () => {
  it.each(cases)('$rule $level: the drive holds what was dialled', ({ rule, level, family }) => {
    const d = drawDrive({ seed: 9, faults: [{ rule, level, dial: 0.6 }], car: carFor(family) });
    const sim = simulate(d.spec);
    const truth = family.truth(sim);
    expect(truth.level).toBe(level === 'under' ? 'none' : level);
    const dialled = d.expectations[0]!.dialled;
    if (dialled.peak !== undefined) expect(truth.measures.peak).toBeCloseTo(dialled.peak, 1);
    if (dialled.launches !== undefined) expect(truth.measures.launches).toBe(dialled.launches);
    if (dialled.maxRetard !== undefined && level !== 'under')
      expect(truth.measures.maxRetard).toBeCloseTo(dialled.maxRetard, 1);
  });

  it('a drive without faults holds none, whatever its kind', () => {
    for (const [seed, kind] of (['inspection', 'circuit', 'hotDay', 'mountain'] as const).entries()) {
      const sim = simulate(drawDrive({ seed: 40 + seed, kind }).spec);
      for (const f of FAULTS) expect(f.truth(sim).level, `${kind} ${f.rule}`).toBe('none');
    }
  });

  it('several faults may share a drive', () => {
    const wish = [
      { rule: 'engine.knock', level: 'repair' as const, dial: 0.5 },
      { rule: 'transmission.over-temperature', level: 'watch' as const, dial: 0.5 },
    ];
    const sim = simulate(drawDrive({ seed: 3, faults: wish }).spec);
    for (const w of wish) expect(FAULTS.find((f) => f.rule === w.rule)!.truth(sim).level, w.rule).toBe(w.level);
  });
});

const decoys = FAULTS.flatMap((f) => Object.keys(f.decoys).map((name) => ({ rule: f.rule, name, family: f })));

describe('decoys', () => {
  it.each(decoys)('$rule $name: looks like a fault and is none', ({ rule, name, family }) => {
    const sim = simulate(
      drawDrive({ seed: 12, kind: 'inspection', car: carFor(family), decoys: [{ rule, name }] }).spec,
    );
    expect(family.truth(sim).level).toBe('none');
  });

  it('tip-in shows retard outside pulls, a decay tail one event, traction an intervention', () => {
    const run = (rule: string, name: string) =>
      simulate(drawDrive({ seed: 12, kind: 'inspection', car: 'demo-saloon', decoys: [{ rule, name }] }).spec);
    expect(run('engine.knock', 'tipIn').truth.knock.filter((e) => e.pull === 0).length).toBeGreaterThan(5);
    expect(run('engine.knock', 'decayTail').truth.knock.length).toBe(1);
    const cut = run('engine.knock', 'torqueReduction').signals.get('knockRetard.cylinder1')!;
    expect(Math.max(...cut)).toBeGreaterThan(5);
    const ice = run('usage.launches', 'wheelspinIce');
    expect(ice.truth.launches.length).toBe(0);
  });
});
