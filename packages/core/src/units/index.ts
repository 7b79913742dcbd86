export { type ConversionOptions, convert, converter, type PhysicalQuantity, parseQuantity } from './conversion.js';
export { findUnit, findUnits, unitById } from './spelling.js';
export { UNITS } from './table.js';
export { type Quantity, type Unit, UnitError } from './unit.js';
