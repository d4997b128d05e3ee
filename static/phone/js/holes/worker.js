import { measureGrate } from "./grate.js";

self.onmessage = ({ data }) => self.postMessage(measureGrate(data.picture, data.setup));
