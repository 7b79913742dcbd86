import type { CarDue, DueList, FluidLife } from '../logbook/due.js';
import type { Block, Line } from './document.js';
import { number, percent } from './format.js';

/** What is due for each car of the book, the soonest first. */
export function dueDocument({ asOf, cars }: DueList): Block[] {
  return [
    {
      kind: 'title',
      line: [
        { text: cars.length === 1 ? 'What is due' : `What is due for ${cars.length} cars`, strong: true },
        `  as of ${asOf}`,
      ],
    },
    ...(cars.length > 1 ? tableOf(cars) : cars.flatMap(carBlocks)),
    ...(cars.some(({ fluid }) => fluid !== null) ? [{ kind: 'paragraph' as const, line: FLUID_WORDS }] : []),
  ];
}

const FLUID_WORDS =
  'The life of the fluid is a comparison by a trade chart made for conventional automatic fluid; for dual-clutch fluid no such chart exists. The maker’s interval comes first.';

/** Several cars: one line each; what to drive is said of one car. */
function tableOf(cars: readonly CarDue[]): Block[] {
  return [
    {
      kind: 'table',
      head: ['car', 'last drive', 'next recording', 'fluid used', 'why'],
      right: [3],
      rows: cars.map(({ car, last, next, fluid }): Line[] => [
        [{ text: car, strong: true }],
        last === null ? 'none' : last.slice(0, 10),
        next.overdue ? [{ text: next.date, tone: 'watch', strong: true }, '  overdue'] : next.date,
        fluid?.used == null ? '' : percent(fluid.used.value),
        next.reasons.join('; '),
      ]),
    },
    { kind: 'paragraph', line: '--car with one of them says what the next recording should show.' },
  ];
}

function carBlocks(due: CarDue): Block[] {
  return [
    {
      kind: 'subheading',
      line: [{ text: due.car, strong: true }, due.last === null ? '' : `  last drive ${due.last.slice(0, 10)}`],
    },
    { kind: 'facts', rows: dueRows(due) },
  ];
}

/** Rows of one car, also for its report. */
export function dueRows({ next, fluid }: Pick<CarDue, 'next' | 'fluid'>): (readonly [string, Line])[] {
  const minutes = next.phases.reduce((sum, phase) => sum + phase.minutes, 0);
  return [
    [
      'Next recording',
      [
        { text: next.date, strong: true, ...(next.overdue ? { tone: 'watch' as const } : {}) },
        next.overdue ? '  overdue' : '',
      ],
    ],
    ...next.reasons.map((reason): readonly [string, Line] => ['', reason]),
    ...(next.phases.length === 0
      ? []
      : [
          [
            'Worth showing',
            `${next.open.length === 1 ? 'one question is' : `${next.open.length} questions are`} open; ${number(minutes)} minutes settle what driving can: ${next.phases.map(({ title }) => title.toLowerCase()).join(', ')} (telltale plan has the steps and cautions)`,
          ] as const,
        ]),
    ...(fluid === null ? [] : [['Transmission fluid', fluidWords(fluid)] as const]),
  ];
}

function fluidWords({ since, distance, factor, drives, used, left }: FluidLife): string {
  const from = since === null ? 'since the first drive (no change is noted)' : `since the change of ${since}`;
  const pace = `ages ${number(factor, 2)} times as fast as at a steady 79.4 °C, by ${drives === 1 ? 'one drive' : `${drives} drives`}`;
  if (used === null || distance === null) return `${from}: ${pace}; how far it went is not known without the odometer`;
  const range = Number.isFinite(used.high)
    ? ` (${percent(used.low)} to ${percent(used.high)})`
    : ' (one drive tells no range)';
  const rest = left === null ? '' : `; about ${number(Math.round(left / 1000) * 1000)} km are left at this pace`;
  return `${from}: ${number(Math.round(distance))} km, ${pace}: ${percent(used.value)} of the chart’s life used${range}${rest}`;
}
