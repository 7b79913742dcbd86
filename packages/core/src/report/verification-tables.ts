import { spoken } from '../channels/spoken.js';
import type { Correction, Table, Verification } from '../verify/verification.js';
import type { Block, Line } from './document.js';
import { number, quantity, unitSign } from './format.js';

/** A table as text for a spreadsheet; `name` is a file name. */
export interface TableFile {
  readonly name: string;
  readonly text: string;
}

/**
 * Tables of a sign-off in plain axis-and-values form: engine speeds (rpm) in the first row, loads in the first column;
 * empty = not visited, or too little to say. Of each table the values of the nodes, the extremes and the visits; of the
 * correction the factors and what is suggested.
 */
export function verificationTables({ tables = [], correction }: Verification): TableFile[] {
  return [...tables.flatMap(filesOf), ...(correction === undefined ? [] : correctionFiles(correction))];
}

function filesOf(table: Table): TableFile[] {
  const stem = [table.id, table.member]
    .filter((part) => part !== undefined)
    .join('-')
    .replace(/[^A-Za-z0-9]+/g, '-');
  const grid = (of: (cell: Table['cells'][number]) => number | null): string => {
    const cells = new Map(table.cells.map((cell) => [`${cell.load}/${cell.engineSpeed}`, of(cell)]));
    return csv(
      `${table.load.channel} [${table.load.unit}] \\ engineSpeed [rpm]`,
      table.engineSpeed,
      table.load.points.map((load) => [load, table.engineSpeed.map((speed) => cells.get(`${load}/${speed}`) ?? null)]),
    );
  };
  return [
    { name: `${stem}.csv`, text: grid(({ value }) => value) },
    { name: `${stem}-extreme.csv`, text: grid(({ extreme }) => extreme) },
    { name: `${stem}-visits.csv`, text: grid(({ visits }) => visits) },
  ];
}

function correctionFiles({ kind, axis, nodes }: Correction): TableFile[] {
  const of = (what: 'factor' | 'suggested'): TableFile => {
    const name = `correction-${what}.csv`;
    if (kind === 'air-meter')
      return {
        name,
        text: csv(
          `${axis.channel} [${axis.unit}]`,
          nodes.map(({ at }) => at),
          [[what, nodes.map((node) => node[what])]],
        ),
      };
    const speeds = [...new Set(nodes.map(({ engineSpeed }) => engineSpeed!))].sort((a, b) => a - b);
    const loads = [...new Set(nodes.map(({ at }) => at))].sort((a, b) => a - b);
    const cells = new Map(nodes.map((node) => [`${node.at}/${node.engineSpeed}`, node[what]]));
    return {
      name,
      text: csv(
        `${axis.channel} [${axis.unit}] \\ engineSpeed [rpm]`,
        speeds,
        loads.map((load) => [load, speeds.map((speed) => cells.get(`${load}/${speed}`) ?? null)]),
      ),
    };
  };
  return [of('factor'), of('suggested')];
}

function csv(
  corner: string,
  head: readonly number[],
  rows: readonly (readonly [number | string, readonly (number | null)[]])[],
): string {
  const cell = (x: number | null): string => (x === null || Number.isNaN(x) ? '' : String(Number(x.toPrecision(6))));
  return `${[[corner, ...head], ...rows.map(([first, values]) => [first, ...values.map(cell)])].map((row) => row.join(',')).join('\n')}\n`;
}

/** Where the map was visited, and the cell of each table that harms most. */
export function tableBlocks(tables: readonly Table[] | undefined): Block[] {
  if (tables === undefined || tables.length === 0) return [];
  const { load } = tables[0]!;
  return [
    {
      kind: 'heading',
      text: 'Tables',
      note: `engine speed x ${spoken(load.channel)}; warm, steady`,
    },
    {
      kind: 'table',
      head: ['', 'cells', 'enough', 'extreme', 'where'],
      right: [1, 2, 3],
      rows: tables.map((table): Line[] => {
        const worst = table.cells.reduce((a, b) => (Math.abs(b.extreme) > Math.abs(a.extreme) ? b : a));
        const at = `${number(worst.engineSpeed)} rpm, ${quantity(worst.load, load.unit)}`;
        return [
          `${table.title}${table.member === undefined ? '' : `, ${table.member}`}`,
          String(table.cells.length),
          String(table.cells.filter(({ enough }) => enough).length),
          quantity(worst.extreme, table.unit, 3),
          worst.scavenging === true ? `${at} (fresh air may pass the valves here)` : at,
        ];
      }),
    },
    {
      kind: 'paragraph',
      line: [
        {
          text: 'A cell says something from ten independent samples in three visits; extremes are single samples. The JSON, the page and --tables hold every cell.',
          tone: 'quiet',
        },
      ],
    },
  ];
}

/** Cells that differ beyond the band of their table; without one, that none does. */
export function cellBlocks(changes: Verification['cellChanges'], load: string | undefined): Block[] {
  if (changes === undefined || changes.length === 0) return [];
  const cells = changes.reduce((sum, each) => sum + each.cells.length, 0);
  const changed = changes.flatMap((table) =>
    table.cells.filter((cell) => cell.changed).map((cell) => ({ table, cell })),
  );
  const shown = [...changed]
    .sort((a, b) => strength(b.cell) - strength(a.cell))
    .slice(0, CELLS_SHOWN)
    .map(({ table, cell }): Line[] => [
      `${table.title}${table.member === undefined ? '' : `, ${table.member}`}`,
      `${number(cell.engineSpeed)} rpm, ${quantity(cell.load, load)}`,
      quantity(cell.before, table.unit, 3),
      quantity(cell.after, table.unit, 3),
      `${number(cell.difference.low, 3)} to ${number(cell.difference.high, 3)}`,
    ]);
  return [
    {
      kind: 'heading',
      text: 'Cell by cell',
      note: 'one mean a visit; the band holds for all cells of a table together',
    },
    {
      kind: 'paragraph',
      line:
        changed.length === 0
          ? `Not distinguishable in any of ${cells} cells that both maps visited three times and more.`
          : `${changed.length} of ${cells} cells that both maps visited three times and more differ. Map or session, not separable.`,
    },
    ...(shown.length === 0
      ? []
      : ([
          { kind: 'table', head: ['', 'where', 'before', 'after', 'change, 95 % band'], rows: shown, right: [2, 3] },
        ] satisfies Block[])),
    ...(changed.length > CELLS_SHOWN
      ? ([
          { kind: 'paragraph', line: `And ${changed.length - CELLS_SHOWN} more; the JSON has them all.` },
        ] satisfies Block[])
      : []),
  ];
}

const CELLS_SHOWN = 12;

/** Difference over the half-width of its band. */
function strength({
  difference: { value, low, high },
}: {
  readonly difference: { readonly value: number; readonly low: number; readonly high: number };
}): number {
  return Math.abs(value) / ((high - low) / 2);
}

export function correctionBlocks(correction: Correction | undefined): Block[] {
  if (correction === undefined) return [];
  const { kind, axis, nodes, notes } = correction;
  const told = nodes.filter(({ enough }) => enough);
  const rows = told.map(({ at, engineSpeed, factor, low, high, suggested, visits }): Line[] => [
    quantity(at, axis.unit),
    ...(engineSpeed === null ? [] : [`${number(engineSpeed)} rpm`]),
    factor!.toFixed(3),
    `${low!.toFixed(3)} to ${high!.toFixed(3)}`,
    suggested === 1 ? 'as it is' : suggested!.toFixed(3),
    String(visits),
  ]);
  return [
    {
      kind: 'heading',
      text: kind === 'air-meter' ? 'Air meter' : 'Filling',
      note: 'factor on the air that the control unit counts',
    },
    ...(rows.length === 0
      ? []
      : ([
          {
            kind: 'table',
            head: [
              unitSign(axis.unit),
              ...(kind === 'air-meter' ? [] : ['speed']),
              'factor',
              '95 % interval',
              'suggested',
              'visits',
            ],
            rows,
          },
        ] satisfies Block[])),
    { kind: 'list', ordered: false, items: notes },
  ];
}
