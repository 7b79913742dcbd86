import fc from 'fast-check';
import Papa from 'papaparse';
import { describe, expect, it } from 'vitest';
import { dayNumber, daysFromCivil, ordinalDayNumber, weekDayNumber } from '../../src/ingest/civil-date.js';
import { parseStamp } from '../../src/ingest/stamp.js';
import { shared, sharedText } from './shared.js';

function epochMilliseconds(text: string): number | null {
  const stamp = parseStamp(text);
  if (stamp === null || stamp.date !== 'fixed') return null;
  const seconds = stamp.parts === 0 ? 0 : stamp.seconds;
  return Math.round((stamp.day * 86_400 + seconds - (Number.isNaN(stamp.zone) ? 0 : stamp.zone * 60)) * 1000);
}

describe.skipIf(!shared.present)(`ISO 8601 ${shared.present ? '' : shared.why}`, () => {
  const rows = shared.present
    ? Papa.parse<{ text: string; epoch_ms: string; note: string }>(sharedText('validation/iso8601.csv'), {
        header: true,
        skipEmptyLines: true,
      }).data
    : [];

  // Source: ISO 8601:2004 and 8601-1:2019/Amd 1:2022 forms, check values computed independently of this project.
  it.each(rows.filter((row) => row.epoch_ms !== ''))('$text ($note)', ({ text, epoch_ms }) => {
    expect(epochMilliseconds(text)).toBe(Number(epoch_ms));
  });

  it('rejects 30 February and reads a leap second as the second after it', () => {
    expect(rows.map((row) => row.text)).toContain('2024-02-30');
    expect(parseStamp('2024-02-30')).toBeNull();
    // 2017-01-01T00:00:00Z = 1483228800.
    expect(epochMilliseconds('2016-12-31T23:59:60Z')).toBe(1_483_228_800_000);
  });
});

describe('days', () => {
  it('counts days like the platform calendar over five centuries', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1800, max: 2300 }),
        fc.integer({ min: 1, max: 12 }),
        fc.integer({ min: 1, max: 28 }),
        (y, m, d) => {
          expect(daysFromCivil(y, m, d)).toBe(Date.UTC(y, m - 1, d) / 86_400_000);
        },
      ),
    );
  });

  it('knows which days do not exist', () => {
    expect(dayNumber(2023, 2, 29)).toBeNaN();
    expect(dayNumber(2024, 2, 29)).toBe(Date.UTC(2024, 1, 29) / 86_400_000);
    expect(dayNumber(2024, 13, 1)).toBeNaN();
    expect(ordinalDayNumber(2023, 366)).toBeNaN();
    expect(ordinalDayNumber(2024, 366)).toBe(Date.UTC(2024, 11, 31) / 86_400_000);
    // ISO 8601: 2026 has 53 weeks, 2025 has 52.
    expect(weekDayNumber(2026, 53, 5)).toBe(Date.UTC(2027, 0, 1) / 86_400_000);
    expect(weekDayNumber(2025, 53, 1)).toBeNaN();
  });
});

describe('stamps', () => {
  it.each([
    ['12:34:56', 45_296],
    ['1:02:03.5', 3723.5],
    ['01:02:03,25', 3723.25],
    ['31:23.9', 1883.9],
    ['12:34:56:789', 45_296.789],
    ['12:00:00 AM', 0],
    ['11:59:59 pm', 86_399],
    ['123:00:00', 442_800],
  ])('reads the clock time %s', (text, seconds) => {
    expect(parseStamp(text)?.seconds).toBeCloseTo(seconds, 9);
    expect(parseStamp(text)?.date).toBe('none');
  });

  it.each([
    ['05.03.2024 12:00:00', '2024-03-05T12:00:00Z'],
    ['5.3.2024 12:00', '2024-03-05T12:00:00Z'],
    ['2024/03/05 12:00:00', '2024-03-05T12:00:00Z'],
    ['05-Mar-2024 12:00:00', '2024-03-05T12:00:00Z'],
    ['2024-03-05 12:00:00 +01:00', '2024-03-05T11:00:00Z'],
    ['2024-03-05T120000Z', '2024-03-05T12:00:00Z'],
    ['2024-03-05 12:00:00 UTC', '2024-03-05T12:00:00Z'],
  ])('reads the date-time %s', (text, same) => {
    expect(epochMilliseconds(text)).toBe(Date.parse(same));
  });

  it.each([
    '',
    '12',
    '12:60:00',
    '25:61',
    '2024-13-01',
    '31.02.2024',
    '2024-03-05T25:00:00',
    '12:34:56x',
    'noon',
    '1.5',
    '2024-03-05T',
    '::',
    '24:00:01 AM',
    '2024-366x',
  ])('takes %s for no stamp', (text) => {
    expect(parseStamp(text)).toBeNull();
  });

  it('keeps the order of day and month open where both could be either', () => {
    expect(parseStamp('03/04/2024')).toMatchObject({ date: 'ab', a: 3, b: 4 });
  });

  it('never throws', () => {
    fc.assert(
      fc.property(
        fc.string({ unit: fc.constantFrom(...'0123456789:-/.,TWZ +apm'), maxLength: 30 }),
        (text) => void parseStamp(text),
      ),
      { numRuns: 5000 },
    );
  });
});
