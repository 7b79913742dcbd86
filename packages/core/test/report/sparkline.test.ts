import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { Spark } from '../../src/plots/sparks.js';
import { sparkline } from '../../src/report/sparkline.js';
import { columns, renderText } from '../../src/report/text.js';

const spark = (values: readonly (number | null)[], event = { from: 10, to: 20 }): Spark => ({
  rule: 'engine.knock',
  name: 'knock retard, cylinder 3',
  unit: 'deg',
  from: 0,
  to: values.length,
  event,
  values,
});

const BARS = '▁▂▃▄▅▆▇█';

describe('a sparkline', () => {
  it('puts the event in brackets, and says what it is, its range and its time', () => {
    const values = Array.from({ length: 40 }, (_, i) => (i >= 10 && i < 20 ? 8 : 0));
    expect(sparkline(spark(values, { from: 10, to: 19 }))).toBe(
      `${'▁'.repeat(10)}[${'█'.repeat(10)}]${'▁'.repeat(20)} knock retard, cylinder 3 0° to 8°, 0:00–0:40`,
    );
  });

  it('keeps the order of its values, and shows where there is no sample', () => {
    const number = fc.oneof(fc.double({ min: -1e5, max: 1e5, noNaN: true }), fc.constant(null));
    fc.assert(
      fc.property(fc.array(number, { minLength: 2, maxLength: 40 }), (values) => {
        const drawn = [...sparkline(spark(values)).split(' ')[0]!.replace(/[[\]]/g, '')];
        expect(drawn).toHaveLength(values.length);
        values.forEach((value, i) => {
          expect(drawn[i] === '·').toBe(value === null);
          values.forEach((other, k) => {
            if (value !== null && other !== null && value > other)
              expect(BARS.indexOf(drawn[i]!)).toBeGreaterThanOrEqual(BARS.indexOf(drawn[k]!));
          });
        });
      }),
    );
  });

  it.each([80, 120])('stays within %i columns in a report, the drawing on one line', (width) => {
    const text = renderText(
      [
        {
          kind: 'facts',
          rows: [
            ['Confidence', '99 %'],
            ['Course', sparkline(spark(Array.from({ length: 40 }, (_, i) => i)))],
          ],
        },
      ],
      { width },
    );
    const lines = text.split('\n');
    for (const line of lines) expect(columns(line)).toBeLessThanOrEqual(width);
    expect(lines.filter((line) => line.includes('█'))).toHaveLength(1);
    expect(lines.find((line) => line.includes('█'))).toContain('▁▁▁▁▁');
  });
});
