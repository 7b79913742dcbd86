import fc from 'fast-check';

const digits = fc.string({ unit: fc.constantFrom(...'0123456789'), minLength: 1, maxLength: 18 });
export const numberText = fc
  .tuple(
    fc.constantFrom('', '-', '+'),
    digits,
    fc.constantFrom('', '.', '.5', '.000', '.123456789', '.0000001'),
    fc.constantFrom('', '', '', 'e3', 'E-12', 'e400'),
  )
  .map((parts) => parts.join(''));

const dirty = fc.oneof(
  { weight: 8, arbitrary: numberText },
  {
    weight: 2,
    arbitrary: fc.constantFrom(
      '',
      ' ',
      '""',
      '"1.5"',
      ' 7 ',
      '"8" ',
      '.',
      '-',
      '+',
      '-.5',
      '5.',
      '1.2.3',
      '0x10',
      '1,5',
      '"1,5"',
      '87 °C',
      '12%',
      'inf',
      'NaN',
      'null',
    ),
  },
  {
    weight: 1,
    arbitrary: fc.constantFrom(
      'N',
      'D',
      'ON',
      'OFF',
      'a "b" c',
      '"x,y"',
      '"x\ny"',
      '"',
      '"open',
      '--',
      'é',
      '1 2',
      '1e',
      'e5',
      '#',
      '10:30',
      '-0',
      '\u0007',
    ),
  },
);

const lineEnd = fc.constantFrom('\n', '\r\n', '\r', '\n\n');
const delimiter = fc.constantFrom(',', ';', '\t');

export const dirtyTable = fc
  .record({
    delimiter,
    lineEnd,
    width: fc.integer({ min: 2, max: 5 }),
    time: fc.constantFrom<((i: number) => string)[]>(
      (i) => String(i),
      (i) => (i * 0.05).toFixed(2),
      (i) => `10:00:${String(i % 60).padStart(2, '0')}.5`,
      (i) => `1e${i}`,
      (i) => (i % 9 === 4 ? '' : String(i / 8)),
    ),
    rows: fc.array(
      fc.record({
        cells: fc.array(dirty, { minLength: 5, maxLength: 5 }),
        odd: fc.constantFrom('', '', '', '', '', 'short', 'long', 'trailing', 'note', 'header'),
      }),
      { minLength: 2, maxLength: 30 },
    ),
    final: fc.boolean(),
  })
  .map((t) => {
    const header = ['Time [s]', 'a', 'b', 'c', 'd'].slice(0, t.width).join(t.delimiter);
    const lines = t.rows.map((row, i) => {
      const cells = [t.time(i), ...row.cells].slice(0, t.width);
      if (row.odd === 'short') cells.pop();
      if (row.odd === 'long') cells.push('5');
      if (row.odd === 'trailing') cells.push('');
      if (row.odd === 'note') return 'a note, between';
      return row.odd === 'header' ? header : cells.join(t.delimiter);
    });
    return [header, ...lines].join(t.lineEnd) + (t.final ? t.lineEnd : '');
  });
