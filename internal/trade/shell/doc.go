// Package shell measures curved surfaces and what a layer on them takes: areas, arc lengths, the volume under a shape,
// and the volume of a layer of some thickness with its curvature counted. Shapes have closed forms; anything else comes
// as a triangle mesh (OBJ, STL, PLY), whose groups become zones.
//
// A shape of rise 0 is flat and measures as such; figures that a flat shape has not (a radius of curvature) are errors.
// Small rises lose no digits. Readers of meshes take an io.Reader and limits, hold no more than those limits allow, and
// answer any bytes whatever with a mesh or an error. Nothing here is NaN or infinite.
//
// A mesh that is open, torn or repeated still measures; its Survey says so, and a person decides. This room opens no
// file and designs nothing: a thickness is the plan's, and what a shell can bear is for the licensed engineer.
//
// Start at Shape for closed forms, at Read and Mesh.Survey for meshes, at Measures.Layer for volumes.
package shell
