import { describe, expect, it } from 'vitest';
import { fluidPlace, placeOf } from '../../src/derived/place.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';

const fluid = { id: 'transmissionOilTemperature' };
const car = (transmission: (typeof UNKNOWN_VEHICLE)['transmission']) => ({ ...UNKNOWN_VEHICLE, transmission });

describe('fluidPlace', () => {
  it('is the sump and a dual clutch when nobody says otherwise, and says that both are assumed', () => {
    const found = fluidPlace(fluid, UNKNOWN_VEHICLE);
    expect(found).toMatchObject({ place: 'sump', kind: 'dual-clutch' });
    expect(found.assumed.length).toBe(2);
  });

  it('is what the header says, before what the profile says', () => {
    const profile = car({ kind: 'converter', fluidPlace: 'cooler-inlet' });
    expect(fluidPlace({ ...fluid, place: 'clutch-outlet' }, profile)).toEqual({
      place: 'clutch-outlet',
      kind: 'converter',
      assumed: [],
    });
    expect(fluidPlace({ ...fluid, place: 'sump' }, profile).place).toBe('cooler-inlet');
    expect(fluidPlace(fluid, profile)).toEqual({ place: 'cooler-inlet', kind: 'converter', assumed: [] });
  });
});

describe('placeOf', () => {
  it('is known or refused, never guessed', () => {
    expect(placeOf({ id: 'intakeAirTemperature', place: 'manifold' })).toBe('manifold');
    const found = placeOf({ id: 'intakeAirTemperature' });
    expect(isRefusal(found) && found.missing.conditions[0]).toContain('intakeAirTemperature');
  });
});
