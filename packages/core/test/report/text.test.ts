import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { spoken } from '../../src/channels/spoken.js';
import { clock, number, quantity, span } from '../../src/report/format.js';
import { rounded, toJson } from '../../src/report/json.js';
import { renderMarkdown } from '../../src/report/markdown.js';
import { columns, renderText, wrap } from '../../src/report/text.js';

const plainPaint = (text: string): string => text;

describe('wrapping', () => {
  test('never exceeds the width, loses no word, keeps the hanging indent', () => {
    fc.assert(
      fc.property(
        fc.array(fc.stringMatching(/^[a-zA-Z0-9.,]{1,30}$/), { minLength: 1, maxLength: 40 }),
        fc.integer({ min: 40, max: 120 }),
        (list, width) => {
          const lines = wrap(list.join(' '), width, '    ', '      ', plainPaint);
          for (const line of lines) expect(columns(line)).toBeLessThanOrEqual(width);
          expect(lines.map((line) => line.trim()).join(' ')).toBe(list.join(' '));
          for (const line of lines.slice(1)) expect(line.startsWith('      ')).toBe(true);
        },
      ),
    );
  });

  test('leaves a comma of the next span with the word before it', () => {
    for (let length = 1; length < 60; length++) {
      const line = ['x'.repeat(length), ' y', { text: 'stop', tone: 'stop' as const }, ', peak 22.4 %', ', gear 4'];
      const lines = wrap(line, 40, '', '', plainPaint);
      for (const text of lines) expect(text.startsWith(',')).toBe(false);
      expect(lines.map((text) => text.trim()).join(' ')).toContain('ystop, peak 22.4 %, gear 4');
    }
  });

  test('never parts a number from its unit, nor a sign from its number', () => {
    const text =
      'slipped 11.3 % (1451 rpm of 12800 rpm) at 23 °C, limit 6 %; 0.4 ± 0.06 km/h, >= 5 s, 3 m/s² and 12 events in a row';
    for (let width = 40; width < 120; width++) {
      for (let indent = 0; indent < 12; indent++) {
        const lines = wrap(text, width, ' '.repeat(indent), ' '.repeat(indent), plainPaint);
        expect(lines.map((line) => line.trim()).join(' ')).toBe(text);
        for (const line of lines) {
          expect(line.trim()).not.toMatch(/^(?:%|rpm|°C|km\/h|s\b|m\/s²)/u);
          expect(line).not.toMatch(/(?:±|>=)$/u);
        }
      }
    }
    // What follows a number and is no unit may stand on the next line.
    expect(wrap(`${'a'.repeat(37)} 12 events`, 40, '', '', plainPaint)).toEqual([`${'a'.repeat(37)} 12`, 'events']);
  });

  test('breaks a word that is longer than the line', () => {
    const lines = wrap('x'.repeat(200), 60, '', '', plainPaint);
    expect(lines.every((line) => line.length <= 60)).toBe(true);
    expect(lines.join('')).toBe('x'.repeat(200));
  });
});

test('file content is data: terminal escapes and direction overrides never reach the text', () => {
  const hostile = 'a\u001b[31mred\u001b]0;title\u0007\u202egnp.exe\r\nb';
  const text = renderText([{ kind: 'paragraph', line: hostile }]);
  expect([...text].filter((char) => char !== '\n' && /[\p{Cc}\p{Cf}]/u.test(char))).toEqual([]);
  expect(text).toContain('red');
});

test('markdown escapes mark-up in file content', () => {
  const text = renderMarkdown([{ kind: 'table', head: ['a'], rows: [['<img src=x onerror=alert(1)> | `b` [c](d)']] }]);
  expect(text).not.toContain('<img');
  expect(text).toContain('\\|');
  expect(text).toContain('\\[c\\]');
});

describe('numbers', () => {
  test.each([
    [131.2, '131.2'],
    [0.05, '0.05'],
    [1234.56, '1235'],
    [12345, '12\u202f345'],
    [-3.10001, '-3.1'],
    [0, '0'],
    [1e-9, '0'],
    [Number.NaN, 'not known'],
  ])('%d reads %s', (value, text) => expect(number(value)).toBe(text));

  test('carry their unit', () => {
    expect(quantity(131.2, 'degC')).toBe('131.2 °C');
    expect(quantity(5.25, 'deg')).toBe('5.25°');
    expect(quantity([3, 5], undefined)).toBe('3, 5');
    expect(quantity([], undefined)).toBe('none');
    expect(quantity(1, '1')).toBe('1');
  });

  test('times read as on a watch', () => {
    expect(clock(812.3)).toBe('13:32');
    expect(clock(3661)).toBe('1:01:01');
    expect(clock(59.96, true)).toBe('0:59.9');
    expect(span(812.3, 845)).toBe('13:32–14:05');
    expect(span(3, 5.5)).toBe('0:03.0–0:05.5');
  });

  test('ids read as words', () => {
    expect(spoken('knockRetard.cylinder3')).toBe('knock retard, cylinder 3');
    expect(spoken('transmissionOilTemperature')).toBe('transmission oil temperature');
  });
});

describe('JSON', () => {
  test('rounds every non-integer once, to 6 significant digits', () => {
    expect(rounded(131.23456789)).toBe(131.235);
    expect(rounded(0.000123456789)).toBe(0.000123457);
    expect(rounded(123456789)).toBe(123456789);
    expect(rounded(1234567.5)).toBe(1234570);
    expect(rounded(-0)).toBe(0);
    expect(rounded(Number.NaN)).toBeNull();
    expect(toJson({ a: [0.1 + 0.2] })).toBe('{\n  "a": [\n    0.3\n  ]\n}\n');
  });

  test('a rounded number rounds to itself', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
        expect(rounded(rounded(value)!)).toBe(rounded(value));
      }),
    );
  });
});
