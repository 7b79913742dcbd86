import { WORK_PER_AIR } from '../engine.js';
import type { Random } from '../random.js';
import type { Simulation } from '../simulate.js';
import { atLeast, type DriveDraft, type FaultFamily, nearest, type TrueFinding } from './fault.js';
import { longPulls, perPull, truePieces } from './full-load.js';
import { signalOf } from './settled.js';

/** air.meter-range: the meter ends below what the engine draws. */
export const meterRange: FaultFamily = {
  rule: 'air.meter-range',
  levels: ['repair'],
  apply(draft, level, dial, random) {
    const share = level === 'under' ? 1.35 - 0.2 * dial : 0.82 - 0.3 * dial;
    end(draft, (share * draft.car.engine.ratedPower * 1120) / WORK_PER_AIR);
    prepare(draft, random);
    return {
      rule: 'air.meter-range',
      level,
      note: `meter ends at ${share.toFixed(2)} of the rated flow`,
      dialled: { share },
    };
  },
  truth,
  decoys: {
    /** A logger that sends the flow as one byte of g/s: its end is not the end of the sensor. */
    formatEnd(draft, random) {
      draft.tuned.set('airMassFlow', { quantum: 1, maximum: 255 });
      prepare(draft, random);
    },
    /** Renewed at 2 Hz and held in between. */
    slowMeter(draft, random) {
      prepare(draft, random);
      draft.tuned.set('airMassFlow', { refresh: 2, quantum: 1 });
    },
    coarse(draft, random) {
      prepare(draft, random);
      draft.tuned.set('airMassFlow', { quantum: 1 });
    },
  },
};

/** kg/s: what the sensor cannot tell the control unit does not know either. */
function end(draft: DriveDraft, flow: number): void {
  draft.disturb.push((plant) => {
    plant.meterCeiling = flow;
  });
  // The end of a converter is without noise.
  draft.tuned.set('airMassFlow', { maximum: Math.round(flow * 1e5) / 100 - 0.5, quantum: 0.01 });
}

function prepare(draft: DriveDraft, random: Random): void {
  for (const id of ['airMassFlow', 'manifoldPressure']) draft.kept.add(id);
  atLeast(draft, random.pick([10, 20]));
  longPulls(draft, random.range(2000, 2400));
}

/** Seconds that the meter stands at its end in one go; second longest of the pulls. */
function truth(sim: Simulation): TrueFinding {
  const flow = signalOf(sim, 'airMassFlow');
  const ceiling = sim.plant.meterCeiling * 1000 * (1 - 1e-5);
  const values = truePieces(sim).map((piece) => {
    let longest = 0;
    let run = 0;
    for (let i = piece.start; i <= piece.end; i++) {
      run = flow[i]! >= ceiling ? run + 1 : 0;
      longest = Math.max(longest, run);
    }
    return { pull: piece.pull, value: longest / sim.rate };
  });
  const flat = perPull(values)[1] ?? 0;
  return { level: flat > 0.3 ? 'repair' : 'none', measures: { flat }, margin: nearest(flat, [0.3]) };
}
