import type { ColumnsReport } from '../engine/assessment.js';
import type { Block, Line } from './document.js';
import { clock, number, percent, quantity, unitSign } from './format.js';
import { problemLines } from './input-blocks.js';

/** How each column was understood: channel, unit, rate, doubts, and how to correct it. */
export function columnsDocument({ input, columns }: ColumnsReport): Block[] {
  if (input.error !== undefined) {
    return [
      { kind: 'title', line: [{ text: `${input.file}: not usable`, tone: 'repair', strong: true }] },
      { kind: 'paragraph', line: input.error.message },
    ];
  }
  const known = new Map(input.channels.map((each) => [each.id, each]));
  const used = columns.filter((column) => column.channel !== undefined);
  const blocks: Block[] = [
    {
      kind: 'title',
      line: [{ text: input.file, strong: true }, `  ${used.length} of ${columns.length} columns understood`],
    },
  ];
  if (input.dialect !== undefined) {
    const { encoding, delimiter, decimal, headerLine, timeFormat, confidence } = input.dialect;
    blocks.push({
      kind: 'facts',
      rows: [
        [
          'Text',
          `${encoding} (${percent(confidence.encoding)} sure), delimiter ${delimiter === '\t' ? 'tab' : delimiter} (${percent(confidence.delimiter)}), decimal ${decimal === '.' ? 'point' : 'comma'} (${percent(confidence.decimal)})`,
        ],
        ['Head', `line ${headerLine} (${percent(confidence.header)} sure)`],
        [
          'Time',
          `${timeFormat} (${percent(confidence.time)} sure), ${number(input.rows ?? 0)} rows, ${clock(input.duration?.value ?? 0)}`,
        ],
      ],
    });
  }
  blocks.push({ kind: 'heading', text: 'Understood' });
  blocks.push({
    kind: 'table',
    head: ['column', 'channel', 'read as, range, rate'],
    rows: used.map((column): Line[] => {
      const channel = known.get(column.channel ?? '');
      const { range, rate } = channel ?? { range: null, rate: null };
      const same = column.sourceUnit === undefined || column.sourceUnit === '' || column.sourceUnit === column.unit;
      const parts = [
        same
          ? unitSign(column.unit) || 'no unit'
          : `${unitSign(column.sourceUnit)} → ${unitSign(column.unit) || 'ratio'}`,
        ...(range === null ? [] : [`${number(range.low, 3)} to ${number(range.high, 3)}`]),
        rate === null || range?.low === range?.high ? 'never moves' : quantity(rate.value, 'Hz', 2),
        ...(column.certainty === 'certain' ? [] : [column.certainty ?? '']),
      ];
      return [short(column.label, 48), column.channel ?? '', parts.join(', ')];
    }),
  });
  const other = columns.filter((column) => column.channel === undefined);
  if (other.length > 0) {
    blocks.push({ kind: 'heading', text: 'Not used' });
    blocks.push({
      kind: 'table',
      head: ['column', 'why'],
      rows: other.map((column) => [short(column.label, 48), column.reason]),
    });
  }
  const doubts = columns
    .filter((column) => column.channel !== undefined || column.doubts.length > 0)
    .flatMap((column) => column.doubts.map((doubt): readonly [string, Line] => [short(column.label, 28), doubt]));
  if (doubts.length > 0)
    blocks.push({ kind: 'heading', text: 'Doubts, and how to settle them' }, { kind: 'facts', rows: doubts });
  if (input.problems.length > 0) {
    blocks.push(
      { kind: 'heading', text: 'What was noticed' },
      { kind: 'list', ordered: false, items: problemLines(input.problems) },
    );
  }
  // An example out of this file: a column in doubt, else the first one that is used.
  const example = used.find((column) => column.certainty !== 'certain') ?? used[0];
  const label = example?.label ?? 'Oil T';
  const channel = example?.channel ?? 'engineOilTemperature';
  const unit = JSON.stringify(example?.sourceUnit || example?.unit || 'degC');
  blocks.push(
    { kind: 'heading', text: 'To correct a column' },
    {
      kind: 'paragraph',
      line: 'Write a map file and pass it with --map FILE. A column is named by its label, or by its number (#3 for the third); the channel null leaves it out. For example:',
    },
    {
      kind: 'code',
      lines: [
        'schema: telltale/map@1',
        'columns:',
        `  ${JSON.stringify(label)}: { channel: ${channel}, unit: ${unit} }`,
      ],
    },
  );
  return blocks;
}

function short(text: string, most: number): string {
  return [...text].length <= most ? text : `${[...text].slice(0, most - 1).join('')}…`;
}
