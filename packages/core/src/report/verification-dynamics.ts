import type { EventResult, Verification } from '../verify/verification.js';
import type { Block, Line } from './document.js';
import { clock, number, unitSign } from './format.js';

/** Measures of a pull that are told with what passes quickly. */
export const DYNAMIC: readonly string[] = [
  'boost.spool',
  'boost.overshoot',
  'boost.settling',
  'boost.swing',
  'throttle.closure',
  'torque.intervention',
];

interface Row {
  readonly title: string;
  readonly unit: string;
  readonly before: Side;
  readonly after: Side;
  readonly difference?: EventResult['difference'];
}

interface Side {
  readonly count: number;
  readonly mean: number | null;
  readonly worst: number | null;
  readonly where?: string;
}

/** How boost, mixture, throttle and shifts moved: one number a pull, tip-in or upshift. */
export function dynamicsBlocks(sheet: Verification): Block[] {
  const rows = [
    ...DYNAMIC.flatMap((id) => ofPulls(sheet, id) ?? []),
    ...sheet.dynamics.flatMap((each) => ofEvents(sheet, each)),
  ];
  const open = sheet.dynamics.filter(({ after, before }) => after.events === 0 && before.events === 0);
  if (rows.length === 0 && open.length === 0) return [];
  const compared = rows.some(({ before }) => before.count > 0);
  return [
    {
      kind: 'heading',
      text: 'Dynamics',
      note: 'one number a pull, tip-in or upshift',
    },
    ...(rows.length === 0
      ? []
      : ([
          {
            kind: 'table',
            head: [
              '',
              ...(compared ? ['before'] : []),
              'after',
              'most after',
              ...(compared ? ['change, 95 %'] : []),
              'seen in',
            ],
            right: compared ? [1, 2, 3] : [1, 2],
            rows: rows.map((row): Line[] => lineOf(row, compared)),
          },
        ] satisfies Block[])),
    ...(open.length === 0
      ? []
      : ([
          {
            kind: 'list',
            ordered: false,
            items: [...new Set(open.map(({ notes }) => notes.join('; ')))].map(
              (why): Line => [
                `${open
                  .filter(({ notes }) => notes.join('; ') === why)
                  .map(({ title }) => title)
                  .join('; ')}: `,
                { text: `${why}.`, tone: 'quiet' },
              ],
            ),
          },
        ] satisfies Block[])),
  ];
}

function lineOf({ title, unit, before, after, difference }: Row, compared: boolean): Line[] {
  const sign = unitSign(unit);
  const value = (x: number | null): string => (x === null ? '' : number(x, 3));
  return [
    `${title}${sign === '' ? '' : `, ${sign}`}`,
    ...(compared ? [value(before.mean)] : []),
    value(after.mean),
    value(after.worst),
    ...(compared ? [difference === undefined ? '' : `${signed(difference.low)} to ${signed(difference.high)}`] : []),
    `${compared ? `${before.count} + ${after.count}` : String(after.count)}${after.where === undefined ? '' : `; ${after.where}`}`,
  ];
}

function ofPulls({ pulls, limits, change }: Verification, id: string): Row | undefined {
  const side = (which: 'before' | 'after'): Side => {
    const values = pulls.flatMap(({ side: own, number: k, measures }) => {
      const value = own === which ? measures[id]?.value : undefined;
      return typeof value === 'number' ? [{ k, value }] : [];
    });
    if (values.length === 0) return { count: 0, mean: null, worst: null };
    const worst = values.reduce((a, b) => (b.value > a.value ? b : a));
    return {
      count: values.length,
      mean: values.reduce((sum, { value }) => sum + value, 0) / values.length,
      worst: worst.value,
      where: `pull ${worst.k}`,
    };
  };
  const endpoint = change?.endpoints.find((each) => each.id === id);
  const named = endpoint ?? limits.find((each) => each.id === id);
  const [before, after] = [side('before'), side('after')];
  if (before.count + after.count === 0) return undefined;
  return {
    title: named?.title ?? TITLES[id] ?? id,
    unit: unitOf(pulls, id),
    before,
    after,
    ...(endpoint?.difference === undefined ? {} : { difference: endpoint.difference }),
  };
}

/** Of those that have neither limit nor comparison. */
const TITLES: Readonly<Record<string, string>> = {
  'boost.spool': 'time to boost',
  'boost.settling': 'time until boost settles',
  'torque.intervention': 'torque taken by traction control or a limiter',
};

function unitOf(pulls: Verification['pulls'], id: string): string {
  for (const { measures } of pulls) {
    const unit = measures[id]?.unit;
    if (unit !== undefined) return unit;
  }
  return '';
}

function ofEvents({ inputs }: Verification, { title, unit, before, after, difference }: EventResult): Row[] {
  if (before.events + after.events === 0) return [];
  const files = inputs.filter(({ side }) => side === 'after').length;
  const side = ({ events, mean, worst }: EventResult['before']): Side => ({
    count: events,
    mean,
    worst: worst?.value ?? null,
    ...(worst === undefined
      ? {}
      : { where: `at ${clock(worst.at, true)}${files > 1 ? ` in ${inputs[worst.input]?.file ?? ''}` : ''}` }),
  });
  return [
    { title, unit, before: side(before), after: side(after), ...(difference === undefined ? {} : { difference }) },
  ];
}

function signed(value: number): string {
  return `${value > 0 ? '+' : ''}${number(value, 3)}`;
}
