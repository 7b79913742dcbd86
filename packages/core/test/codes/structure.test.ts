import { describe, expect, it } from 'vitest';
import { decodeTroubleCode, encodeTroubleCode, parseTroubleCode } from '../../src/codes/structure.js';
import { hasValidation, sharedText, WHERE } from '../math/published.js';

describe.skipIf(!hasValidation)(`two-byte codes of validation/dtc-encoding.csv${WHERE}`, () => {
  const pairs = hasValidation
    ? sharedText('validation/dtc-encoding.csv')
        .trim()
        .split('\n')
        .slice(1)
        .map((line) => line.split(','))
    : [];

  it.each(pairs.map(([hex, code]) => [hex!, code!] as const))('%s is %s', (hex, code) => {
    // The published table holds the bit rule at 0000 as well; on the wire that is padding and no code.
    if (hex === '0000') expect(decodeTroubleCode(hex)).toBeUndefined();
    else expect(decodeTroubleCode(hex)?.code).toBe(code);
    expect(encodeTroubleCode(code)).toBe(hex);
  });
});

describe('structure of a code (SAE J2012 / ISO 15031-6, from memory)', () => {
  it('goes from bytes to text and back for every value', () => {
    for (let value = 1; value <= 0xffff; value += 7) {
      const hex = value.toString(16).toUpperCase().padStart(4, '0');
      const code = decodeTroubleCode(hex)!;
      expect(encodeTroubleCode(code.code)).toBe(hex);
      expect(parseTroubleCode(code.code)).toEqual(code);
    }
  });

  it.each([
    ['P0301', 'powertrain', 'generic'],
    ['P1234', 'powertrain', 'maker'],
    ['P2263', 'powertrain', 'generic'],
    ['P3000', 'powertrain', 'maker'],
    ['P33FF', 'powertrain', 'maker'],
    ['P3400', 'powertrain', 'generic'],
    ['C0035', 'chassis', 'generic'],
    ['C1234', 'chassis', 'maker'],
    ['B2AAA', 'body', 'maker'],
    ['B3FFF', 'body', 'reserved'],
    ['U0100', 'network', 'generic'],
    ['U3000', 'network', 'reserved'],
  ])('%s: %s, %s', (code, area, owner) => expect(parseTroubleCode(code)).toMatchObject({ code, area, owner }));

  it('names the group of P0 and P2 codes only', () => {
    expect(parseTroubleCode('P0301')?.group).toBe('ignition and misfire');
    expect(parseTroubleCode('P0A80')?.group).toBe('hybrid drive');
    expect(parseTroubleCode('P1301')?.group).toBeUndefined();
    expect(parseTroubleCode('P3401')?.group).toBeUndefined();
  });

  it.each(['p0301', 'P0301-00', 'P0301:00', 'P030100', ' P0301 ', '0x0301', '0X030100'])('reads %s', (text) =>
    expect(parseTroubleCode(text)).toEqual(parseTroubleCode('P0301')),
  );

  it('keeps a failure type that says something', () => {
    expect(parseTroubleCode('P0301-2A')?.failureType).toBe('2A');
    expect(parseTroubleCode('0xC10087')).toMatchObject({ code: 'U0100', failureType: '87' });
  });

  it.each([
    '',
    'P',
    'P030',
    'P4301',
    'X0301',
    'P03011',
    'P0G01',
    '0301',
    '0x301',
    '0x0000',
    'PRESSURE',
    'P0301 stored',
  ])('takes %j for no code', (text) => expect(parseTroubleCode(text)).toBeUndefined());
});
