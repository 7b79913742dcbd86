export type * from './car-trend.js';
export type { Charts } from './charts.js';
export type { Crossing, Forecast } from './forecast.js';
export { type TrendOptions, trendsOf } from './trends.js';
