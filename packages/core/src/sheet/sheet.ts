import * as z from 'zod';
import { csvRows } from '../sidefiles/csv-rows.js';
import { readSideFile, type SideFile, type SideFileFault } from '../sidefiles/side-file.js';
import type { PointState, Seen } from './point.js';
import { POINTS } from './points.js';

/** Stable code of every fault in a walk-round sheet. */
export const SHEET_CODE = 'bad-sheet';

const STATES = ['sound', 'watch', 'repair', 'stop', 'not-seen'] as const satisfies readonly PointState[];
const EXPECTED = `expected one of ${STATES.join(', ')}, or nothing for not looked at`;

const STATE = z.preprocess(
  // An empty field is a point that nobody looked at.
  (value) => (value === null || value === undefined || value === '' ? 'not-seen' : value),
  z.enum(STATES, { error: (issue) => `found ${JSON.stringify(issue.input)}, ${EXPECTED}` }),
);
const NOTE = z.preprocess((value) => value ?? '', z.coerce.string().max(500));

const SHEET = z.strictObject({
  schema: z.literal('telltale/sheet@1', { error: 'expected schema: telltale/sheet@1' }),
  points: z
    .record(
      z.string(),
      z.union([z.strictObject({ state: STATE, note: NOTE.optional() }), STATE.transform((state) => ({ state }))], {
        error: (issue) => `found ${JSON.stringify(issue.input)}, expected { state, note } with a state: ${EXPECTED}`,
      }),
    )
    .default({}),
});

const CSV_HEAD = ['point', 'state', 'note'];

/**
 * Reads a walk-round sheet: YAML or JSON (schema `telltale/sheet@1`), or CSV with the columns point, state, note.
 * Points that the sheet leaves out were not looked at; points of the user's own are kept. Values of a faulty line are
 * refused with its number.
 */
export function readSheet(text: string, name: string): SideFile<readonly Seen[]> {
  const first =
    text
      .replace(/^\uFEFF/, '')
      .trimStart()
      .split(/\r?\n/, 1)[0] ?? '';
  if (/^"?point"?\s*[,;\t]/i.test(first)) return readCsv(text, name);
  const read = readSideFile(text, name, SHEET_CODE, SHEET);
  if (!read.ok) return read;
  return {
    ok: true,
    value: Object.entries(read.value.points).map(([point, given]) => ({
      point,
      state: given.state,
      note: 'note' in given ? (given.note ?? '') : '',
    })),
  };
}

function readCsv(text: string, name: string): SideFile<readonly Seen[]> {
  const faults: SideFileFault[] = [];
  const seen: Seen[] = [];
  const fault = (line: number, column: number, message: string): void => {
    faults.push({ code: SHEET_CODE, message: `${name}:${line}:${column}: ${message}`, line, column });
  };
  for (const { line, cells } of csvRows(text).slice(1)) {
    const [point = '', state = '', note = ''] = cells;
    const read = STATE.safeParse(state.toLowerCase());
    if (point === '') fault(line, 1, `found no point, expected one of the sheet (${CSV_HEAD.join(', ')})`);
    else if (!read.success) fault(line, 2, `${point}: found ${JSON.stringify(state)}, ${EXPECTED}`);
    else seen.push({ point, state: read.data, note });
  }
  return faults.length > 0 ? { ok: false, faults } : { ok: true, value: seen };
}

/** The sheet to fill in, as YAML. */
export function emptySheet(): string {
  const lines = [
    '# Walk-round sheet: what no recording shows. Give each point a state:',
    '#   sound, watch (note it, negotiate), repair (needs work), stop (do not buy as it stands); leave it empty = not looked at.',
    '# Read back with: telltale assess FILE... --sheet THIS_FILE. Points of your own may be added.',
    '# Never lie under a car that stands on a jack. Hot and turning parts. A qualified technician sees more.',
    'schema: telltale/sheet@1',
    'points:',
  ];
  let topic = '';
  for (const { id, look, watch, repair, stop } of POINTS) {
    const [own = ''] = id.split('.');
    if (own !== topic) lines.push('');
    topic = own;
    lines.push(`  # ${look}`, `  #   watch: ${watch}`);
    if (repair !== undefined) lines.push(`  #   repair: ${repair}`);
    if (stop !== undefined) lines.push(`  #   stop: ${stop}`);
    lines.push(`  ${id}: { state: , note: '' }`);
  }
  return `${lines.join('\n')}\n`;
}

/** JSON Schema of the YAML form. */
export function sheetSchema(): object {
  return z.toJSONSchema(SHEET, { io: 'input' });
}
