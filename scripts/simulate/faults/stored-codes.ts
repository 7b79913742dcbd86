import type { MemoryCode } from '../memory.js';
import type { FaultFamily } from './fault.js';

type Row = readonly [code: string, unit: MemoryCode['unit'], text: string];

/** Codes that no other rule speaks about, so that their own severity is what counts. */
const WATCH: readonly Row[] = [
  ['P0072', 'Engine', 'outside temperature signal low'],
  ['U0140', 'Transmission', 'no answer from body'],
  ['B1234', 'Body', 'maker code'],
  ['P1602', 'Engine', 'maker code'],
];
const REPAIR: readonly Row[] = [
  ['P0122', 'Engine', 'pedal signal low'],
  ['P0606', 'Engine', 'processor'],
  ['U0100', 'Transmission', 'no answer from engine'],
  ['P2138', 'Engine', 'pedal signals differ'],
  ['P0641', 'Engine', 'reference voltage'],
  ['C1234', 'Brakes', 'maker code'],
];

/** codes.stored: codes left in the memory, with or without a freeze frame. */
export const storedCodes: FaultFamily = {
  rule: 'codes.stored',
  levels: ['watch', 'repair'],
  apply(draft, level, dial, random) {
    const done = (note: string) => ({ rule: this.rule, level, note, dialled: {} });
    if (level === 'under') return done('no code');
    // A pending code counts one step less: a repair code that is only pending is a watch.
    const pending = level === 'watch' && random.chance(0.4);
    const rows = level === 'repair' || pending ? REPAIR : WATCH;
    const count = 1 + Math.floor(dial * 3);
    const first = random.int(0, rows.length - 1);
    draft.disturb.push((plant) => {
      for (let i = 0; i < Math.min(count, rows.length); i++) {
        const [code, unit, text] = rows[(first + i) % rows.length]!;
        const frame = {
          rpm: random.int(700, 5200),
          coolant: random.int(20, 105),
          volts: Number(random.range(12.4, 14.4).toFixed(1)),
        };
        const status = pending ? ('pending' as const) : ('stored' as const);
        plant.memory.codes.push({ code, unit, text, status, ...(random.chance(0.6) ? { frame } : {}) });
        // What cannot be cleared stands in the list twice.
        if (!pending && random.chance(0.3)) plant.memory.codes.push({ code, unit, text, status: 'permanent' });
      }
    });
    return done(`${count} codes${pending ? ', pending' : ''}`);
  },
  truth({ plant }) {
    const { codes } = plant.memory;
    const firm = codes.filter(({ code, status }) => status !== 'pending' && REPAIR.some(([each]) => each === code));
    return {
      level: codes.length === 0 ? 'none' : firm.length > 0 ? 'repair' : 'watch',
      measures: { codes: new Set(codes.map(({ code }) => code)).size },
      margin: codes.length === 0 ? Number.POSITIVE_INFINITY : codes.length,
    };
  },
  decoys: {
    /** Emptied yesterday: an answer without codes, which proves nothing and is no finding of this rule. */
    emptied(draft) {
      draft.disturb.push((plant) => {
        plant.memory.sinceClear = { km: 8, warmUps: 1, minutes: 12 };
        plant.memory.monitorsOpen = ['Catalyst', 'Evaporative system'];
      });
    },
  },
};
