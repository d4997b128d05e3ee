/** Measures a grate beside the page: takes a grey picture and what it is measured with, sends back
 * the figures or why there are none.
 */

import { measureGrate } from "./grate.js";

self.onmessage = ({ data }) => self.postMessage(measureGrate(data.picture, data.setup));
