import type { Random } from '../random.js';
import type { Tampering } from '../record.js';
import { copied, deleted, gap, pace, scaled, scaledWhole, smoothed, smoothedWhole, splice } from '../tampering.js';
import { type DriveDraft, type FaultFamily, insertWarm } from './fault.js';

const NOISY = ['engineSpeed', 'manifoldPressure', 'airMassFlow', 'engineTorque', 'wheelSpeed'];

function tamper(draft: DriveDraft, kind: Parameters<typeof mark>[1], change: Tampering): void {
  mark(draft, kind);
  draft.tampered.push(change);
}

function mark(
  draft: DriveDraft,
  kind: 'gap' | 'clock' | 'splice' | 'deleted' | 'copied' | 'scaled' | 'smoothed' | 'whole',
): void {
  draft.disturb.push((plant) => {
    plant.tampered = kind;
  });
}

const WHEELS = ['frontLeft', 'frontRight', 'rearLeft', 'rearRight'] as const;

/** One column changed from end to end, beside one that says what it was; tells which. */
function whole(draft: DriveDraft, dial: number, random: Random): string {
  const factor = random.chance(0.5) ? 0.85 - 0.25 * dial : 1.32 + 0.3 * dial;
  const kind = random.pick(['speed', 'load', 'charge', 'shaft', 'wheel'] as const);
  for (const id of ['wheelSpeed', 'manifoldPressure', 'boostPressure', 'throttlePosition', 'airMassFlow', 'gear'])
    draft.kept.add(id);
  insertWarm(draft.script, [{ kind: 'town', duration: 160, limit: 60 }]);
  if (kind === 'wheel') {
    const wheel = `wheelSpeed.${random.pick(WHEELS)}`;
    tamper(draft, 'whole', smoothedWhole(wheel, random.int(4, 8)));
    return 'wheel smoothed all along';
  }
  if (kind === 'load') {
    draft.added.add('engineLoadAbsolute');
    tamper(draft, 'whole', scaledWhole(random.pick(['engineLoadAbsolute', 'airMassFlow']), factor));
  } else if (kind === 'shaft' && draft.car.transmission.kind !== 'manual') {
    draft.kept.add('inputShaftSpeed');
    tamper(draft, 'whole', scaledWhole('engineSpeed', factor));
  } else if (kind === 'charge') {
    tamper(draft, 'whole', scaledWhole('manifoldPressure', factor));
  } else tamper(draft, 'whole', scaledWhole('vehicleSpeed', factor));
  return `${kind} scaled all along`;
}

/** provenance.recording: a file that was joined, cut, copied or edited before it was handed over. */
export const recording: FaultFamily = {
  rule: 'provenance.recording',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    if (level === 'under') {
      draft.added.add('engineRunTime');
      draft.tampered.push(gap(10 + 40 * dial));
      return { rule: this.rule, level, note: 'short gap', dialled: {} };
    }
    if (level === 'watch') {
      draft.added.add('engineRunTime');
      if (random.chance(0.5)) return { rule: this.rule, level, note: whole(draft, dial, random), dialled: {} };
      const paused = random.chance(0.6);
      if (paused) tamper(draft, 'gap', gap(70 + 110 * dial));
      else tamper(draft, 'clock', pace(random.chance(0.5) ? 0.93 - 0.4 * dial : 1.07 + 0.5 * dial));
      return { rule: this.rule, level, note: paused ? 'minutes left out' : 'clock at another pace', dialled: {} };
    }
    const kind = random.pick(['splice', 'deleted', 'copied', 'scaled', 'smoothed'] as const);
    draft.kept.add('wheelSpeed');
    // A smoothed stretch has to be long beside the noise, and the drive long beside the stretch.
    insertWarm(draft.script, [{ kind: 'town', duration: 160, limit: 60 }]);
    if (kind === 'splice' || kind === 'deleted') {
      if (random.chance(0.5)) draft.added.add('engineRunTime');
      tamper(draft, kind, kind === 'splice' ? splice : deleted);
    } else if (kind === 'copied') tamper(draft, kind, copied);
    else if (kind === 'scaled')
      tamper(
        draft,
        kind,
        scaled(['vehicleSpeed', 'wheelSpeed'], random.chance(0.5) ? 0.9 - 0.3 * dial : 1.1 + 0.2 * dial),
      );
    else tamper(draft, kind, smoothed(NOISY));
    return { rule: this.rule, level, note: kind, dialled: {} };
  },
  truth({ plant }) {
    const { tampered } = plant;
    const level = tampered === 'none' ? 'none' : ['gap', 'clock', 'whole'].includes(tampered) ? 'watch' : 'repair';
    return { level, measures: {}, margin: Number.POSITIVE_INFINITY };
  },
  decoys: {
    /** The logger paused; nothing in the file says that the engine ran on. */
    pause(draft, random) {
      draft.tampered.push(gap(random.range(30, 150)));
      draft.dropped.add('engineRunTime');
    },
    lostLink(draft, random) {
      const from = random.range(100, 250);
      draft.disturbances.push({ kind: 'hold', channels: [], from, to: from + random.range(3, 20) });
    },
    loosePlug(draft, random) {
      const from = random.range(100, 250);
      draft.disturbances.push({
        kind: 'value',
        channels: ['coolantTemperature'],
        from,
        to: from + random.range(5, 60),
        value: random.pick([-40, 20, 130]),
      });
    },
    restarted(draft, random) {
      draft.added.add('engineRunTime');
      insertWarm(draft.script, [
        { kind: 'stop', stand: 2 },
        { kind: 'restart', off: random.range(5, 40), duration: 20 },
      ]);
    },
    longIdle(draft, random) {
      insertWarm(draft.script, [{ kind: 'idle', duration: random.range(100, 240) }]);
    },
  },
};
