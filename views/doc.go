// Package views is the pages and their parts: typed templ components, pictures
// drawn as SVG, and the static files. It shows what it is given; it holds no
// rules of the trade, asks no database and knows no request. The struct of a
// page stands beside the page.
package views
