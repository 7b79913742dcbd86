/** Where a pressure or temperature is measured; rules that depend on it ask. */
export type Place =
  | 'sump'
  | 'clutch-outlet'
  | 'cooler-inlet'
  | 'before-compressor'
  | 'before-throttle'
  | 'manifold'
  | 'before-turbine'
  | 'after-turbine';
