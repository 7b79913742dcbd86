import { expect, it } from 'vitest';
import { nameDate } from '../../src/commands/track/name-date.js';

it.each([
  ['2024-03-05.csv', '2024-03-05'],
  ['drive 2024_03_05 cold.csv.gz', '2024-03-05'],
  ['log_20240305-102030.csv', '2024-03-05T10:20:30'],
  ['2024-03-05T10-20.csv', '2024-03-05T10:20:00'],
  ['2024.03.05 10.20.30.csv', '2024-03-05T10:20:30'],
  ['2024-02-29.csv', '2024-02-29'],
])('%s is of %s', (name, date) => expect(nameDate(name)).toBe(date));

it.each([
  '2023-02-29.csv', // no such day
  '05-03-2024.csv', // day or month first can be read two ways
  '2024-03-05 to 2024-03-06.csv', // two dates
  '120240305.csv', // a longer number
  '202403051.csv',
  '2024-0305.csv', // two ways of writing in one
  '1024-03-05.csv',
  'drive.csv',
  '',
])('%s tells no date', (name) => expect(nameDate(name)).toBeUndefined());
